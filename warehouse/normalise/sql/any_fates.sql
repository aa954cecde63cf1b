-- purpose: whether any item stands out at all; most commits have none
-- grain: one row
SELECT count(*) FROM fates

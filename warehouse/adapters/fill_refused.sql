-- purpose: keep what an adapter could not make a record of
-- grain: one row a refused line or cell
CREATE OR REPLACE TABLE refused AS SELECT * FROM arrow_refused

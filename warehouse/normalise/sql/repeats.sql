-- purpose: of items with the same identity in one package, which are copies and which revise
-- grain: one row an item whose identity stands more than once
-- `outcome` first, duplicate, revised; `overruled` where a later line of the package revises it
CREATE OR REPLACE TABLE repeats AS
WITH compared AS (
    SELECT
        items.row, items.identity_no, items.ts, items.take,
        CASE
            WHEN lag(items.row) OVER in_order IS NULL THEN 'first'
            WHEN same_value(
                items.value, items.resolution,
                lag(items.value) OVER in_order, lag(items.resolution) OVER in_order
            ) THEN 'duplicate'
            ELSE 'revised'
        END AS outcome
    FROM items
    SEMI JOIN repeated USING (identity_no, ts, take)
    WHERE items.fault IS NULL
    WINDOW in_order AS (PARTITION BY items.identity_no, items.ts, items.take ORDER BY items.row)
)
SELECT row, outcome,
    outcome <> 'duplicate'
    AND row < max(row) FILTER (outcome <> 'duplicate') OVER (PARTITION BY identity_no, ts, take)
        AS overruled
FROM compared

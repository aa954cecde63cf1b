-- purpose: of items with the same identity in one batch, which are copies and which revise
-- grain: one row an item whose identity stands more than once
-- Order decides by data alone: issued, else received; then package; then place in the file.
-- `outcome` first, duplicate, revised; `ended_by` the package of a later one that revises it
CREATE OR REPLACE TABLE repeats AS
WITH ranked AS (
    SELECT
        items.file_no, items.row, items.identity_no, items.ts, items.take, items.value,
        items.resolution, packages.package,
        row_number() OVER (
            PARTITION BY items.identity_no, items.ts, items.take
            ORDER BY coalesce(items.issued_at, packages.received_at), packages.package, items.row
        ) AS place
    FROM items
    SEMI JOIN repeated USING (identity_no, ts, take)
    JOIN packages USING (file_no)
    WHERE items.fault IS NULL
),
compared AS (
    SELECT *,
        CASE
            WHEN place = 1 THEN 'first'
            WHEN same_value(
                value, resolution, lag(value) OVER in_order, lag(resolution) OVER in_order
            ) THEN 'duplicate'
            ELSE 'revised'
        END AS outcome
    FROM ranked
    WINDOW in_order AS (PARTITION BY identity_no, ts, take ORDER BY place)
),
winners AS (
    SELECT identity_no, ts, take, max(place) AS place, arg_max(package, place) AS package
    FROM compared
    WHERE outcome <> 'duplicate'
    GROUP BY identity_no, ts, take
)
SELECT
    compared.file_no, compared.row, compared.outcome,
    CASE WHEN compared.outcome <> 'duplicate' AND compared.place < winners.place
         THEN winners.package END AS ended_by
FROM compared
JOIN winners USING (identity_no, ts, take)

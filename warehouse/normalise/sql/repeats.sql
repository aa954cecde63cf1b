-- purpose: identities that stand more than once in the batch, and in the store perhaps: in what
--          order their values came, which are copies, and which one counts
-- grain: one row a value, of the batch (`file_no` given) or stored
-- Order decides by data alone: issued, else received; then package; then place in the file. An
-- item is a copy where its neighbour in that order has the same value. The last that is no copy
-- counts; `ended_by` is its package, for the others.
CREATE OR REPLACE TABLE repeats AS
WITH told AS (
    SELECT
        items.identity_no, items.ts, items.take, items.file_no, items.row, packages.package,
        items.value, items.resolution, coalesce(items.issued_at, packages.received_at) AS issued
    FROM items
    SEMI JOIN repeated USING (identity_no, ts, take)
    JOIN packages USING (file_no)
    WHERE items.fault IS NULL AND items.ts BETWEEN $first::TIMESTAMP AND $last::TIMESTAMP
    UNION ALL
    SELECT
        identity_no, ts, take, NULL, row, package, value, resolution, issued
    FROM stored
    SEMI JOIN repeated USING (identity_no, ts, take)
),
compared AS (
    SELECT *,
        row_number() OVER in_order AS place,
        file_no IS NOT NULL AND (
            (lag(package) OVER in_order IS NOT NULL AND same_value(
                value, resolution, lag(value) OVER in_order, lag(resolution) OVER in_order
            ))
            OR (lead(package) OVER in_order IS NOT NULL AND lead(file_no) OVER in_order IS NULL
                AND same_value(
                    value, resolution, lead(value) OVER in_order, lead(resolution) OVER in_order
                ))
        ) AS copy
    FROM told
    WINDOW in_order AS (PARTITION BY identity_no, ts, take ORDER BY issued, package, row)
),
counting AS (
    SELECT identity_no, ts, take, min(place) AS first_place, max(place) AS last_place,
        arg_max(package, place) AS package, bool_or(file_no IS NULL) AS was_stored
    FROM compared
    WHERE NOT copy
    GROUP BY identity_no, ts, take
)
SELECT
    compared.file_no, compared.row, compared.package,
    CASE WHEN copy THEN 'duplicate'
         WHEN place > first_place OR was_stored THEN 'revised'
         ELSE 'first' END AS outcome,
    CASE WHEN NOT copy AND place < last_place THEN counting.package END AS ended_by
FROM compared
JOIN counting USING (identity_no, ts, take)

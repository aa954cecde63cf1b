-- purpose: what becomes of the values of repeated identities: which are copies, and which one counts
-- grain: one row a value, of the batch (`file_no` given) or stored
-- An item is a copy where it is not kept, or where the next kept value is a stored one and the same.
-- The last that is no copy counts; `ended_by` is its package, for the others that counted until now.
CREATE OR REPLACE TABLE repeats AS
WITH compared AS (
    SELECT *,
        file_no IS NOT NULL AND (
            NOT kept
            OR (lead(package) OVER among_kept IS NOT NULL AND lead(file_no) OVER among_kept IS NULL
                AND same_value(
                    value, resolution,
                    lead(value) OVER among_kept, lead(resolution) OVER among_kept
                ))
        ) AS copy
    FROM chains
    WINDOW among_kept AS (PARTITION BY identity_no, ts, take, kept ORDER BY place)
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
    CASE WHEN NOT copy AND NOT ended AND place < last_place THEN counting.package END AS ended_by
FROM compared
JOIN counting USING (identity_no, ts, take)

-- purpose: candidates for readings, items stored before, and declared blanks; records whose stop
--          says why it was not measured
-- grain: one row a file
WITH lines AS (
    SELECT file_no, count(*) AS records, count(*) FILTER ((@{not_measured}) IS NOT NULL) AS not_measured
    FROM batch_records GROUP BY file_no
),
values_found AS (
    SELECT file_no, count(*) AS items, count(*) FILTER (fault IS NULL) AS candidates
    FROM items GROUP BY file_no
),
stored_before AS (
    SELECT file_no, count(*) AS stored FROM own GROUP BY file_no
)
SELECT
    packages.file_no,
    coalesce(candidates, 0) AS candidates,
    coalesce(stored, 0) AS stored,
    coalesce(records, 0) * $measures - coalesce(items, 0) - coalesce(stored, 0) AS blanks,
    coalesce(not_measured, 0) AS not_measured
FROM packages
LEFT JOIN lines USING (file_no)
LEFT JOIN values_found USING (file_no)
LEFT JOIN stored_before USING (file_no)
ORDER BY packages.file_no

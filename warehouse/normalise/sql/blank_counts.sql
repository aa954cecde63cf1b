-- purpose: declared blanks of the package; those whose record says why count as explained
-- grain: one row
SELECT
    (SELECT count(*) FROM records) * $measures - (SELECT count(*) FROM items) AS blanks,
    (SELECT count(*) FROM records WHERE (@{not_measured}) IS NOT NULL) AS records_not_measured

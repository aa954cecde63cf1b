-- purpose: what the files of `readings` hold, to be compared with what the log states of them
-- grain: one row a file
-- The view over the files does not tell which file a row is in: they are read here once more.
SELECT
    filename,
    count(*) AS row_count,
    list_sort(list(DISTINCT site)) AS sites,
    list_sort(list(DISTINCT strftime(ts, '%Y-%m'))) AS months,
    min(ts) AS first,
    max(ts) AS last
FROM read_parquet(getvariable('readings_files'), hive_partitioning = false)
GROUP BY filename

-- purpose: first or second pass through the repeated hour, told by the order in the file (rule R4)
-- grain: one row a record whose local time is ambiguous; `pass` 0 or 1, null where order does not tell
CREATE OR REPLACE TABLE passes AS
WITH texts AS (
    SELECT *, @{time_text} AS ts_text FROM batch_records
),
local_times AS (
    SELECT file_no, line, @{local} AS ts_local, [@{words}]::VARCHAR[] AS words FROM texts
),
doubtful AS (
    SELECT local_times.*, zone_days.day
    FROM local_times
    JOIN zone_days ON zone_days.day = local_times.ts_local::DATE
    WHERE zone_days.change = 'ambiguous'
        AND ts_local >= zone_days.change_from
        AND ts_local < zone_days.change_to
),
steps AS (
    SELECT *, ts_local <= lag(ts_local) OVER (PARTITION BY file_no, words, day ORDER BY line) AS back
    FROM doubtful
),
counted AS (
    SELECT file_no, line,
        count(*) FILTER (back) OVER (PARTITION BY file_no, words, day ORDER BY line) AS backs,
        count(*) FILTER (back) OVER (PARTITION BY file_no, words, day) AS all_backs
    FROM steps
)
SELECT file_no, line, CASE WHEN all_backs = 1 THEN backs END AS pass FROM counted

-- purpose: each record with its time in UTC (`ts`, without zone) or what is wrong with it
-- grain: one row a record
-- A local time becomes an instant by the offsets of its local day (`zone_days`).
SELECT *,
    CASE
        WHEN ts_local IS NULL AND ts_instant IS NULL THEN 'bad-time'
        WHEN ts IS NULL AND in_change AND change = 'missing' THEN 'missing-hour'
        WHEN ts IS NULL AND in_change THEN 'ambiguous-hour'
        WHEN ts IS NULL OR ts NOT BETWEEN earliest AND latest
        THEN 'time-out-of-range'
    END AS time_fault
FROM (
    SELECT *,
        change IS NOT NULL AND ts_local >= change_from AND ts_local < change_to AS in_change,
        CASE
            WHEN ts_instant IS NOT NULL THEN ts_instant
            WHEN change IS NULL OR ts_local < change_from
            THEN ts_local - to_seconds(offset_before)
            WHEN ts_local >= change_to THEN ts_local - to_seconds(offset_after)
            WHEN change = 'ambiguous'
            THEN ts_local - to_seconds(CASE @{pass} WHEN 0 THEN offset_before WHEN 1 THEN offset_after END)
        END AS ts
    FROM (
        SELECT *, @{local} AS ts_local, @{instant} AS ts_instant
        FROM (SELECT *, @{time_text} AS ts_text FROM batch_records) AS texts
    ) AS clocked
    JOIN packages USING (file_no)
    LEFT JOIN zone_days ON zone_days.day = clocked.ts_local::DATE
    @{pass_join}
) AS timed

-- purpose: streams at the end of their range, as long as that is not long past.
-- grain: one row a stream and range.
-- columns: check_code, stream_id, source, device, since (UTC, first reading at the top),
--          until (UTC, the last one, where it is long past; null: lately so), at_least (unit of the
--          series: only readings from there on are meant), effect, evidence (words).
-- depends: saturated_tops, streams, setting
-- materialise: yes
CREATE OR REPLACE VIEW trust_saturated AS
SELECT
    'saturated' AS check_code, f.stream_id, s.source, s.device, f.since,
    CASE WHEN f.last_at <= CAST(getvariable('as_of') AS TIMESTAMPTZ)
        - to_days(setting('trust_recent_days')::INTEGER) THEN f.last_at END AS until,
    f.at_least, 'distrust' AS effect, f.evidence
FROM saturated_tops AS f
JOIN streams AS s ON s.stream_id = f.stream_id;

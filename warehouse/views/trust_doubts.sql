-- purpose: the findings that doubt readings: what a check distrusts, from when to when.
-- grain: one row a stream and finding of distrust.
-- columns: stream_id, series_id, check_code, since, until (UTC, both included; until is null while
--          it is so), at_least (unit of the series: only readings from there on; null: all),
--          evidence (words).
-- depends: trust_of_streams, streams
-- materialise: yes
-- remembered: yes
CREATE OR REPLACE VIEW trust_doubts AS
SELECT f.stream_id, s.series_id, f.check_code, f.since, f.until, f.at_least, f.evidence
FROM trust_of_streams AS f
JOIN streams AS s ON s.stream_id = f.stream_id
WHERE f.effect = 'distrust';

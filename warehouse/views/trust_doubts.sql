-- purpose: the findings that doubt readings: what a check distrusts, from when to when.
-- grain: one row a stream and finding of distrust.
-- columns: stream_id, series_id, check_code, since, until (UTC, both included; until is null while
--          it is so), at_least (unit of the series: only readings from there on; null: all),
--          evidence (words).
-- depends: trust_stuck, trust_saturated, trust_unit_steps, trust_unit_siblings, trust_unit_class, trust_unit_temperature, trust_axes, trust_copies, streams
-- materialise: yes
-- remembered: yes
CREATE OR REPLACE VIEW trust_doubts AS
WITH found AS (
    SELECT * FROM trust_stuck
    UNION ALL BY NAME SELECT * FROM trust_saturated
    UNION ALL BY NAME SELECT * FROM trust_unit_steps
    UNION ALL BY NAME SELECT * FROM trust_unit_siblings
    UNION ALL BY NAME SELECT * FROM trust_unit_class
    UNION ALL BY NAME SELECT * FROM trust_unit_temperature
    UNION ALL BY NAME SELECT * FROM trust_axes
    UNION ALL BY NAME SELECT * FROM trust_copies
)
SELECT f.stream_id, s.series_id, f.check_code, f.since, f.until, f.at_least, f.evidence
FROM found AS f
JOIN streams AS s ON s.stream_id = f.stream_id
WHERE f.effect = 'distrust';

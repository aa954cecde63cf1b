-- purpose: everything the checks of readings found: those whose findings can doubt a reading.
-- grain: one row a stream and finding.
-- columns: check_code, stream_id, source, device, since, until (UTC; until is null while it is so),
--          at_least (unit of the series: only readings from there on; null: all), effect, evidence.
-- depends: trust_stuck, trust_saturated, trust_unit_steps, trust_unit_siblings, trust_unit_class, trust_unit_temperature, trust_unit_running, trust_axes, trust_copies
CREATE OR REPLACE VIEW trust_of_streams AS
SELECT * FROM trust_stuck
UNION ALL BY NAME SELECT * FROM trust_saturated
UNION ALL BY NAME SELECT * FROM trust_unit_steps
UNION ALL BY NAME SELECT * FROM trust_unit_siblings
UNION ALL BY NAME SELECT * FROM trust_unit_class
UNION ALL BY NAME SELECT * FROM trust_unit_temperature
UNION ALL BY NAME
SELECT * FROM trust_unit_running ANTI JOIN (
    SELECT stream_id FROM trust_unit_steps
    UNION ALL
    SELECT stream_id FROM trust_unit_siblings
    UNION ALL
    SELECT stream_id FROM trust_unit_class
) USING (stream_id)
UNION ALL BY NAME SELECT * FROM trust_axes
UNION ALL BY NAME SELECT * FROM trust_copies;

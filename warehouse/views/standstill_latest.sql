-- purpose: the last trusted readings of each series at proven standstill.
-- grain: one row a reading, at most `judged_readings` a series.
-- columns: series_id, ts (UTC), value (unit of the series).
-- depends: readings_doubted, setting
-- materialise: yes
-- kept: series_id
CREATE OR REPLACE VIEW standstill_latest AS
SELECT series_id, ts, value
FROM readings_doubted
WHERE state = 'stopped' AND doubt IS NULL
QUALIFY row_number() OVER (PARTITION BY series_id ORDER BY ts DESC, value DESC)
    <= setting('judged_readings');

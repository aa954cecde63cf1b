-- purpose: readings that may be judged: steady, or of unknown state and then with a caveat
--          (rule S1), and not doubted.
-- grain: one row a reading.
-- columns: series_id, ts (UTC), day (site-local), value (canonical unit of the series), state,
--          speed (/min of the reference shaft), epoch (how often restoring work was done before).
-- depends: readings_doubted
CREATE OR REPLACE VIEW readings_steady AS
SELECT series_id, ts, day, value, state, speed, epoch
FROM readings_doubted
WHERE usable;

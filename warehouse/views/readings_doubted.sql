-- purpose: every vibration and temperature reading with the doubt about it, if there is one.
-- grain: one row a reading.
-- columns: those of running_states; doubt: null, the reading's own reason, or
--          `stopped-or-loose` (rule J9); usable: may be judged.
-- depends: running_states, quiet_references, setting
CREATE OR REPLACE VIEW readings_doubted AS
WITH doubts AS (
    SELECT
        r.*,
        CASE
            WHEN r.quality <> 'good' THEN coalesce(r.reason, r.quality)
            WHEN r.value IS NULL THEN 'no value'
            -- A machine proven running by its speed is never doubted for being smooth.
            WHEN r.state = 'unknown' AND r.value < setting('quiet_velocity')
                AND r.value < setting('quiet_share') * q.usual_value THEN 'stopped-or-loose'
        END AS doubt
    FROM running_states AS r
    LEFT JOIN quiet_references AS q ON q.series_id = r.series_id
)
SELECT *, doubt IS NULL AND state IN ('steady', 'unknown') AS usable
FROM doubts;

-- purpose: what a velocity series usually reads while its machine runs, to tell a machine at
--          rest or a loose sensor where nothing proves running (rule J9).
-- grain: one row a velocity series that has had a running-like day.
-- columns: series_id, usual_value (unit of the series): median of the last 30 daily medians at
--          or above the floor; days (count).
-- depends: running_states, series, setting
-- materialise: yes
CREATE OR REPLACE VIEW quiet_references AS
WITH days AS (
    SELECT r.series_id, r.day, median(r.value) AS value
    FROM running_states AS r
    JOIN series AS s ON s.series_id = r.series_id
    WHERE s.quantity = 'velocity' AND r.state IN ('unknown', 'steady')
        AND r.quality = 'good' AND r.value IS NOT NULL
    GROUP BY ALL
    HAVING median(r.value) >= setting('quiet_velocity')
),
recent AS (
    SELECT * FROM days
    QUALIFY row_number() OVER (PARTITION BY series_id ORDER BY day DESC) <= setting('quiet_days')
)
SELECT series_id, median(value) AS usual_value, count(*) AS days
FROM recent
GROUP BY series_id;

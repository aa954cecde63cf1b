-- purpose: the background vibration of every standing machine against the limits it would be judged
--          by if it ran (rule S2): bearings that are shaken without turning wear too.
-- grain: one row a limited series with trusted readings at proven standstill within the time a
--        reading holds.
-- columns: series_id, value (median of the last 3 of them: unit of the series, `judged_detector`),
--          readings_used, measured_at (UTC), share_of_b_c (1), warned (above the share of B/C that
--          is told), reason (words).
-- depends: standstill_latest, limited_series, number_text, unit_text, setting
-- materialise: yes
CREATE OR REPLACE VIEW background_vibration AS
WITH latest AS (
    SELECT series_id, ts, value
    FROM standstill_latest
    WHERE ts > CAST(getvariable('as_of') AS TIMESTAMPTZ)
        - to_hours(setting('fresh_online_hours')::BIGINT)
),
valued AS (
    SELECT
        l.series_id, median(r.value) * any_value(l.to_rms) AS value, count(*) AS readings_used,
        max(r.ts) AS measured_at, any_value(l.b_c) AS b_c, any_value(l.unit) AS unit,
        any_value(l.judged_detector) AS detector
    FROM latest AS r
    JOIN limited_series AS l ON l.series_id = r.series_id
    WHERE l.b_c IS NOT NULL
    GROUP BY l.series_id
)
SELECT
    series_id, value, readings_used, measured_at, value / b_c AS share_of_b_c,
    readings_used >= setting('judged_readings')
        AND value > setting('background_share') * b_c AS warned,
    'at standstill ' || number_text(value) || ' ' || unit_text(unit) || ' ' || detector
        || ' come from outside the machine, ' || number_text(100 * value / b_c) || ' % of B/C '
        || number_text(b_c) AS reason
FROM valued;

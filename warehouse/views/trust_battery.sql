-- purpose: batteries that are low, or will be within the time a change takes to plan.
-- grain: one row a source and device.
-- columns: check_code, stream_id (null), source, device, since (UTC), until (null: still so),
--          effect, evidence (words).
-- depends: battery_life, setting, number_text
-- materialise: when asked
CREATE OR REPLACE VIEW trust_battery AS
SELECT
    'battery' AS check_code, NULL::INTEGER AS stream_id, source, device,
    coalesce(low_since, measured_at) AS since, NULL::TIMESTAMPTZ AS until, 'note' AS effect,
    CASE
        WHEN charge IS NULL THEN number_text(volt) || ' V, ' || number_text(usual_volt)
            || ' V when it was new; '
        ELSE number_text(charge) || ' % charge' || CASE WHEN low_since IS NULL THEN '; '
            ELSE ', low is below ' || number_text(setting('battery_low_percent')) || ' %; ' END
    END || told AS evidence
FROM battery_life
WHERE charge < setting('battery_low_percent')
    OR days_left_low < setting('battery_plan_days')
    OR volt < (1 - setting('battery_volt_drop')) * usual_volt;

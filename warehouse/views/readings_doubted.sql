-- purpose: every vibration and temperature reading with the doubt about it, if there is one.
-- grain: one row a reading.
-- columns: those of running_states; doubt: null, the reading's own reason, the trust check that
--          distrusts it, or `stopped-or-loose` (rule J9); usable: may be judged; epoch: how
--          often restoring work was done before.
-- depends: running_states, quiet_references, trust_doubts, restored_series, quiet_moments, is_quiet
-- materialise: yes
CREATE OR REPLACE VIEW readings_doubted AS
WITH spells AS (
    SELECT
        stream_id,
        list({code: check_code, since: since, until: until, at_least: at_least}
            ORDER BY since, check_code) AS spells
    FROM trust_doubts
    GROUP BY stream_id
),
doubts AS (
    SELECT
        r.*,
        CASE
            WHEN r.quality <> 'good' THEN coalesce(r.reason, r.quality)
            WHEN r.value IS NULL THEN 'no value'
            ELSE coalesce(
                list_filter(t.spells, lambda spell: r.ts >= spell.since
                    AND (spell.until IS NULL OR r.ts <= spell.until)
                    AND (spell.at_least IS NULL OR r.value >= spell.at_least))[1].code,
                CASE WHEN m.ts IS NOT NULL OR is_quiet(r.state, r.value, q.usual_value)
                    THEN 'stopped-or-loose' END)
        END AS doubt,
        CASE WHEN w.restored IS NULL THEN 0
            ELSE len(list_filter(w.restored, lambda one: one <= r.ts)) END::INTEGER AS epoch
    FROM running_states AS r
    LEFT JOIN restored_series AS w ON w.series_id = r.series_id
    LEFT JOIN quiet_references AS q ON q.series_id = r.series_id
    LEFT JOIN quiet_moments AS m ON m.stream_id = r.stream_id AND m.ts = r.ts
    LEFT JOIN spells AS t ON t.stream_id = r.stream_id
)
SELECT *, doubt IS NULL AND state IN ('steady', 'unknown') AS usable
FROM doubts;

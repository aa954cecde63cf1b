-- purpose: what restoring work came to (rules J4, W3): effective where something is better and
--          nothing stays above B/C; not effective where something stays above, or nothing is better
--          though all that could be compared was: the first reading at a point that was well before
--          says nothing.
-- grain: one row an event and machine.
-- columns: work_id, site, asset, member, worked_at (UTC), activity, resets, order_id, outcome (effective,
--          not-effective; null while there is too little to compare), outcome_at (UTC), series
--          (compared, count), words (before and after of what speaks for it).
-- depends: restoring_work, repair_figures, series, number_text, unit_text
-- materialise: when asked
CREATE OR REPLACE VIEW repair_effects AS
WITH told AS (
    SELECT
        f.*,
        s.quantity || coalesce(' ' || s.axis, '') || ' at ' || s.position || ' '
            || number_text(f.after) || ' ' || unit_text(s.unit) || ' after, '
            || number_text(f.before) || ' before'
            || CASE WHEN f.above THEN ', still above B/C' ELSE '' END AS words
    FROM repair_figures AS f
    JOIN series AS s ON s.series_id = f.series_id
),
summed AS (
    SELECT
        work_id, member, count(*) AS series, bool_or(better) AND NOT bool_or(above) AS effective,
        max(known_at) AS outcome_at,
        bool_or(above) OR NOT bool_or(better) AND count(*) = any_value(comparable) AS failed,
        arg_max(words, {above: above, fall: before / nullif(after, 0), id: -series_id}) AS words
    FROM told
    GROUP BY work_id, member
)
SELECT
    w.work_id, w.site, w.asset, w.member, w.worked_at, w.activity, w.resets, w.order_id,
    CASE WHEN s.effective THEN 'effective' WHEN s.failed THEN 'not-effective' END AS outcome,
    CASE WHEN s.effective OR s.failed THEN s.outcome_at END AS outcome_at, coalesce(s.series, 0) AS series, s.words
FROM restoring_work AS w
LEFT JOIN summed AS s ON s.work_id = w.work_id AND s.member = w.member;

-- purpose: when restoring work was done on the machine of a series: what was read before tells
--          nothing of how it is since (rules J4, J6).
-- grain: one row a series with any.
-- columns: series_id, restored (list of times in order, UTC), restored_at (the last), activity, work_id
--          (of the last).
-- depends: restoring_work, series
-- materialise: yes
CREATE OR REPLACE VIEW restored_series AS
SELECT
    s.series_id, list(w.worked_at ORDER BY w.worked_at) AS restored, max(w.worked_at) AS restored_at,
    arg_max(w.activity, (w.worked_at, w.work_id)) AS activity,
    arg_max(w.work_id, (w.worked_at, w.work_id)) AS work_id
FROM restoring_work AS w
JOIN series AS s ON s.site = w.site AND s.asset = w.asset AND s.member = w.member
GROUP BY s.series_id;

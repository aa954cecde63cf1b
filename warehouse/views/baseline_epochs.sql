-- purpose: from when to when a baseline of a series may be learnt (rule J4): since its first reading
--          or the exchange of the machine, and anew after each restoring work.
-- grain: one row a series and epoch.
-- columns: series_id, epoch (0 the first), epoch_from, epoch_until (UTC; null = still), work_id
--          (what began it; null for the first).
-- depends: series, restoring_work
CREATE OR REPLACE VIEW baseline_epochs AS
WITH begun AS (
    SELECT series_id, baseline_from AS epoch_from, NULL::VARCHAR AS work_id
    FROM series
    UNION ALL
    SELECT s.series_id, w.worked_at, w.work_id
    FROM series AS s
    JOIN restoring_work AS w
        ON w.site = s.site AND w.asset = s.asset AND w.member = s.member
        AND w.worked_at > s.baseline_from
),
exchanged AS (
    SELECT s.series_id, max(w.worked_at) AS worked_at
    FROM series AS s
    JOIN restoring_work AS w
        ON w.site = s.site AND w.asset = s.asset AND w.member = s.member
    WHERE w.resets = 'new-machine'
    GROUP BY s.series_id
)
SELECT
    b.series_id, (row_number() OVER in_order - 1)::INTEGER AS epoch, b.epoch_from,
    lead(b.epoch_from) OVER in_order AS epoch_until, b.work_id
FROM begun AS b
LEFT JOIN exchanged AS e ON e.series_id = b.series_id
WHERE e.worked_at IS NULL OR b.epoch_from >= e.worked_at
WINDOW in_order AS (PARTITION BY b.series_id ORDER BY b.epoch_from, b.work_id NULLS FIRST);

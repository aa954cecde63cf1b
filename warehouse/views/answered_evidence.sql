-- purpose: series whose last word was answered: they fell silent, and a later trusted reading of the
--          same quantity at the point says how it stands (rule J6).
-- grain: one row a series that no longer counts.
-- columns: series_id.
-- depends: point_evidence
CREATE OR REPLACE VIEW answered_evidence AS
SELECT DISTINCT old.series_id
FROM point_evidence AS old
JOIN point_evidence AS new
    ON new.site = old.site AND new.asset = old.asset AND new.position = old.position
    AND new.axis IS NOT DISTINCT FROM old.axis AND new.quantity = old.quantity
    AND new.series_id <> old.series_id AND new.level <> 'unknown'
    AND new.measured_at > old.measured_at
WHERE old.level = 'unknown'
    AND (old.last_level IS NOT NULL OR old.basis = 'no-fresh-reading');

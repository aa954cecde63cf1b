-- purpose: what became of every stop of a walked route: of several sheets about one visit the one
--          received last counts (rule W4). A retracted package does not.
-- grain: one row a route, stop and visit.
-- columns: source, route, stop, visited_at (UTC), result (null: unexplained), observations (codes,
--          separated by spaces), note, person, device, site, asset, position, axis (where the
--          registry has the stop now, else where it was), package, row, received_at (UTC).
-- depends:
CREATE OR REPLACE VIEW stop_results_current AS
SELECT
    r.source, r.route, r.stop, r.visited_at, r.result, r.observations, r.note, r.person, r.device,
    coalesce(s.site, r.site) AS site, coalesce(s.asset, r.asset) AS asset,
    coalesce(s.position, r.position) AS position,
    CASE WHEN s.stop IS NULL THEN r.axis ELSE s.axis END AS axis,
    r.package, r.row, r.received_at
FROM stop_results AS r
LEFT JOIN routes AS s ON s.route = r.route AND s.stop = r.stop
WHERE r.visited_at <= CAST(getvariable('as_of') AS TIMESTAMPTZ)
    AND r.package NOT IN (SELECT package FROM superseded WHERE why = 'retracted')
QUALIFY row_number() OVER (
    PARTITION BY r.route, r.stop, r.visited_at
    ORDER BY r.received_at DESC, r.package DESC, r.row DESC) = 1;

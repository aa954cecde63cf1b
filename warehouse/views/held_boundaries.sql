-- purpose: the boundaries that the readings of a series have persistently exceeded and not
--          persistently left (rule J5).
-- grain: one row a series, basis, operating bin and boundary that is held as exceeded.
-- columns: series_id, basis, bin, boundary, since (first site-local day of the run), repeated (its last
--          reading and the one before were both above).
-- depends: boundary_runs
CREATE OR REPLACE VIEW held_boundaries AS
SELECT * EXCLUDE (held)
FROM boundary_runs
WHERE held;

-- purpose: readings that count now: not superseded, and not later than `as_of`.
-- grain: one row a reading.
-- columns: all columns of `readings`; `value` in the canonical unit that `unit` names.
-- depends:
CREATE OR REPLACE VIEW readings_current AS
SELECT r.*
FROM readings AS r
ANTI JOIN superseded AS s ON s.package = r.package AND s.row = r.row
WHERE r.ts <= CAST(getvariable('as_of') AS TIMESTAMPTZ);

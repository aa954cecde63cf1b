-- purpose: what was told last of every place, beside what is judged of it now (rule J12).
-- grain: one row a point, member or asset of which anything was ever told.
-- columns: those of issued. Where `event` is `withdrawn`, nothing is told of the place any more.
-- depends:
CREATE OR REPLACE VIEW issued_newest AS
SELECT *
FROM issued
QUALIFY row_number() OVER (
    PARTITION BY scope, site, asset, member, position, axis ORDER BY seq DESC) = 1;

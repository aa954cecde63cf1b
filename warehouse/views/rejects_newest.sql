-- purpose: each refused item with the reason that keeps it out now: a replay may have met another.
-- grain: one row a refused item that is kept (1,000 a package and reason).
-- columns: all columns of `rejects`.
-- depends:
CREATE OR REPLACE VIEW rejects_newest AS
SELECT *
FROM rejects
QUALIFY row_number() OVER (
    PARTITION BY package, "row" ORDER BY coalesce(attempt, 1) DESC, reason
) = 1;

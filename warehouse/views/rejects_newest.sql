-- purpose: each item that was refused, with the reason recorded last: a replay may have met another.
--          One that came in since is still here; the ledger tells what is open (`mcw rejects`).
--          A stop's result (`bad-code`) is an item of its own on the row of the stop's first value;
--          a maintenance event has neither device nor channel, and one item a row.
-- grain: one row a refused item that is kept (1,000 a package and reason).
-- columns: all columns of `rejects`.
-- depends:
CREATE OR REPLACE VIEW rejects_newest AS
SELECT *
FROM rejects
QUALIFY row_number() OVER (
    PARTITION BY package, "row", reason = 'bad-code' AND coalesce(device, channel) IS NOT NULL
    ORDER BY coalesce(attempt, 1) DESC, reason
) = 1;

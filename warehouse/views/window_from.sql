-- purpose: from when the fleet views count: as asked, else `fleet_window_days` before its end.
-- grain: scalar macro without arguments over the session variables `fleet_from` and `as_of`.
-- columns: one moment (UTC).
-- depends: window_to, setting
CREATE OR REPLACE MACRO window_from() AS (
    coalesce(CAST(getvariable('fleet_from') AS TIMESTAMPTZ),
        window_to() - to_seconds(86400 * setting('fleet_window_days')))
);

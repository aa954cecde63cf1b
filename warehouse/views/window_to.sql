-- purpose: until when the fleet views count: as asked, but never beyond the moment judged for, which
--          is within it: what was told at that moment counts.
-- grain: scalar macro without arguments over the session variables `fleet_to` and `as_of`.
-- columns: one moment (UTC); the window ends before it.
-- depends:
CREATE OR REPLACE MACRO window_to() AS (
    least(CAST(getvariable('fleet_to') AS TIMESTAMPTZ),
        CAST(getvariable('as_of') AS TIMESTAMPTZ) + INTERVAL 1 MICROSECOND)
);

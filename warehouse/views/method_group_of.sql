-- purpose: method group of a method (rule R3): wireless and wired readings share a trend line.
-- grain: scalar macro.
-- columns: online, route or derived.
-- depends:
CREATE OR REPLACE MACRO method_group_of(method) AS (
    CASE WHEN method IN ('wireless', 'wired') THEN 'online' ELSE method END
);

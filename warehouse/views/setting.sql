-- purpose: value of one judging default by its key (warehouse/limits/defaults.toml). A constant of
--          the session: a lookup in the table would be planned anew at each of its many uses.
-- grain: scalar macro; null for a key that does not exist (a test forbids it).
-- columns: one number, in the unit `judging_defaults` states for the key.
-- depends:
CREATE OR REPLACE MACRO setting(which) AS (
    getvariable('judging_defaults')[which]
);

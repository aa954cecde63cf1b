-- purpose: value of one judging default by its key (warehouse/limits/defaults.toml).
-- grain: scalar macro; null for a key that does not exist (a test forbids it).
-- columns: one number, in the unit `judging_defaults` states for the key.
-- depends:
CREATE OR REPLACE MACRO setting(which) AS (
    SELECT max(value) FROM judging_defaults WHERE key = which
);

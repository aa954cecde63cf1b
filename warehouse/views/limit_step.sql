-- purpose: how many boundaries of a limit set a value exceeds, plus one: a value equal to a boundary
--          belongs to the better side; differences below 1e-9 are rounding of a conversion.
-- grain: scalar macro; value and boundaries in one unit. A set that has no lower (or upper)
--        boundary never gives step 1 (or 4).
-- columns: 1 to 4; null for a value that is null, or where there is no boundary at all.
-- depends:
CREATE OR REPLACE MACRO limit_step(value, lower_one, middle_one, upper_one) AS (
    CASE
        WHEN value IS NULL OR middle_one IS NULL THEN NULL
        WHEN round(value, 9) > upper_one THEN 4
        WHEN round(value, 9) > middle_one THEN 3
        WHEN round(value, 9) <= lower_one THEN 1
        ELSE 2
    END
);

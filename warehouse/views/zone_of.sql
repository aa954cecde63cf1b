-- purpose: evaluation zone of a value (ISO 20816-3, ISO 10816-7): a value equal to a boundary
--          belongs to the better zone; differences below 1e-9 are rounding of a conversion.
-- grain: scalar macro; value and boundaries in one unit.
-- columns: A, B, C, D; null for a value or boundary that is null.
-- depends:
CREATE OR REPLACE MACRO zone_of(value, a_b, b_c, c_d) AS (
    CASE
        WHEN round(value, 9) <= a_b THEN 'A'
        WHEN round(value, 9) <= b_c THEN 'B'
        WHEN round(value, 9) <= c_d THEN 'C'
        WHEN round(value, 9) > c_d THEN 'D'
    END
);

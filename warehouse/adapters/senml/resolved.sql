-- purpose: SenML records with their base fields carried on (RFC 8428 section 4.6)
-- grain: one row a record of the pack
-- A time below 2^28 is relative to now (section 4.5.3); `v` counts from the base value.
CREATE OR REPLACE TEMP TABLE resolved AS
WITH carried AS (
    SELECT
        line, raw, n, u, v, vs, vb, vd, s, t,
        coalesce(last_value(bn IGNORE NULLS) OVER before, '') AS bn,
        coalesce(last_value(bt IGNORE NULLS) OVER before, '0') AS bt,
        last_value(bu IGNORE NULLS) OVER before AS bu,
        last_value(bv IGNORE NULLS) OVER before AS bv
    FROM arrow_senml
    WINDOW before AS (ORDER BY line ROWS BETWEEN UNBOUNDED PRECEDING AND CURRENT ROW)
),
summed AS (
    SELECT *,
        bn || coalesce(n, '') AS name,
        try_cast(try_cast(bt AS DOUBLE) AS DECIMAL(18, 6))
            + try_cast(try_cast(coalesce(t, '0') AS DOUBLE) AS DECIMAL(18, 6)) AS seconds
    FROM carried
),
split AS (
    SELECT *, length(name) - position($split IN reverse(name)) AS cut FROM summed
)
SELECT
    line,
    raw,
    name,
    CASE WHEN contains(name, $split) THEN left(name, cut) END AS device,
    CASE WHEN contains(name, $split) THEN substr(name, cut + 2) END AS channel,
    coalesce(arrow_senml_units.ucum, coalesce(u, bu)) AS unit,
    CASE WHEN bv IS NULL THEN v
         WHEN v IS NULL THEN bv
         ELSE coalesce((try_cast(bv AS DOUBLE) + try_cast(v AS DOUBLE))::VARCHAR, bv || ' + ' || v) END AS value,
    CASE WHEN seconds < 268435456 THEN try_cast($now + seconds AS DECIMAL(18, 6))
         ELSE seconds END::VARCHAR AS time,
    coalesce(vs, vb, vd) IS NOT NULL OR (v IS NULL AND (bv IS NULL OR s IS NOT NULL)) AS no_number
FROM split
LEFT JOIN arrow_senml_units ON arrow_senml_units.senml = coalesce(u, bu)

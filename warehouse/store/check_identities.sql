-- purpose: readings of one month that count and are the same reading (null-safe: GROUP BY takes
--          nulls as equal); candidates are found by a hash first, which is a tenth of the width
-- grain: one row an identity that counts more than once
WITH counting AS (
    SELECT @{identity}, hash(@{identity}) AS hashed
    FROM readings
    ANTI JOIN superseded USING (package, row)
    WHERE ts >= $first::TIMESTAMPTZ AND ts < $first::TIMESTAMPTZ + INTERVAL 1 MONTH
),
suspects AS (
    SELECT hashed FROM counting GROUP BY hashed HAVING count(*) > 1
)
SELECT @{identity}, count(*) AS times
FROM counting
SEMI JOIN suspects USING (hashed)
GROUP BY @{identity}
HAVING count(*) > 1
ORDER BY @{identity}

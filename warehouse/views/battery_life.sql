-- purpose: how long each battery lasts at its own present rate, or that this is not to be told.
--          Weekly medians and a straight line through them: days of one week are too much alike
--          to count as so many witnesses. Voltage gives no days: it stays flat until near the end.
-- grain: one row a source and device that reports its battery.
-- columns: source, device, charge (%), volt, usual_volt (V; median of the first 30 d of this
--          battery), measured_at, low_since (UTC; first reading below the low mark in the present
--          run, or null), weeks (count), per_week, per_week_low, per_week_high (% charge a week,
--          95 %; the faster of the last `battery_weeks` and the last `battery_min_weeks`),
--          days_left, days_left_low, days_left_high (d, to `battery_empty_percent`; null where not
--          to be told, or beyond `battery_horizon_days`), told (words).
-- depends: readings_current, setting, number_text, t_975
CREATE OR REPLACE VIEW battery_life AS
WITH sent AS (
    SELECT source, device, quantity, ts, value
    FROM readings_current
    WHERE quantity IN ('battery-charge', 'battery-voltage') AND value IS NOT NULL
),
daily AS (
    SELECT source, device, CAST(ts AS DATE) AS day, median(value) AS charge
    FROM sent
    WHERE quantity = 'battery-charge'
    GROUP BY ALL
),
risen AS (
    SELECT
        source, device, day,
        min(charge) OVER (one ROWS BETWEEN CURRENT ROW AND 6 FOLLOWING)
            - max(charge) OVER (one ROWS BETWEEN 7 PRECEDING AND 1 PRECEDING) AS rise
    FROM daily
    WINDOW one AS (PARTITION BY source, device ORDER BY day)
),
-- A battery that was changed starts anew: the week from then on lies above the week before.
changed AS (
    SELECT source, device, max(day) AS day
    FROM risen
    WHERE rise >= setting('battery_changed_percent')
    GROUP BY ALL
),
present AS (
    SELECT s.*, CAST(s.ts AS DATE) - min(CAST(s.ts AS DATE)) OVER one AS age_days,
        max(CAST(s.ts AS DATE)) OVER one - CAST(s.ts AS DATE) AS days_ago
    FROM sent AS s
    LEFT JOIN changed AS c ON c.source = s.source AND c.device = s.device
    WHERE c.day IS NULL OR CAST(s.ts AS DATE) >= c.day
    WINDOW one AS (PARTITION BY s.source, s.device, s.quantity)
),
latest AS (
    SELECT
        source, device, max(ts) AS measured_at,
        arg_max(value, ts) FILTER (WHERE quantity = 'battery-charge') AS charge,
        median(value) FILTER (WHERE quantity = 'battery-voltage' AND days_ago < 7) AS volt,
        median(value) FILTER (WHERE quantity = 'battery-voltage'
            AND age_days < setting('battery_usual_days')) AS usual_volt,
        max(ts) FILTER (WHERE quantity = 'battery-charge'
            AND value >= setting('battery_low_percent')) AS last_enough
    FROM present
    GROUP BY ALL
),
low AS (
    SELECT p.source, p.device, min(p.ts) AS low_since
    FROM present AS p
    JOIN latest AS l ON l.source = p.source AND l.device = p.device
    WHERE p.quantity = 'battery-charge' AND (l.last_enough IS NULL OR p.ts > l.last_enough)
    GROUP BY ALL
),
weekly AS (
    SELECT source, device, days_ago // 7 AS weeks_ago, median(value) AS charge
    FROM present
    WHERE quantity = 'battery-charge' AND days_ago < 7 * setting('battery_weeks')
    GROUP BY ALL
),
-- A battery near its end falls faster and faster: the last weeks have a word of their own.
spans AS (
    SELECT unnest([setting('battery_weeks'), setting('battery_min_weeks')]) AS span
),
fitted AS (
    SELECT
        w.source, w.device, count(*) AS weeks, regr_slope(w.charge, -w.weeks_ago) AS per_week,
        sqrt(greatest(regr_syy(w.charge, -w.weeks_ago)
            - regr_slope(w.charge, -w.weeks_ago) ** 2 * regr_sxx(w.charge, -w.weeks_ago), 0)
            / (count(*) - 2) / regr_sxx(w.charge, -w.weeks_ago)) AS error
    FROM weekly AS w
    JOIN spans AS s ON w.weeks_ago < s.span
    GROUP BY w.source, w.device, s.span
    HAVING count(*) >= setting('battery_min_weeks')
),
rates AS (
    SELECT
        source, device, weeks, per_week,
        per_week - t_975(weeks - 2) * error AS per_week_low,
        per_week + t_975(weeks - 2) * error AS per_week_high
    FROM fitted
    QUALIFY row_number() OVER (
        PARTITION BY source, device ORDER BY per_week_high < 0 DESC, per_week, weeks) = 1
),
lasting AS (
    SELECT
        l.* EXCLUDE (last_enough), o.low_since,
        f.weeks, f.per_week, f.per_week_low, f.per_week_high,
        l.charge <= setting('battery_empty_percent') AS empty,
        7 * (l.charge - setting('battery_empty_percent')) AS to_empty
    FROM latest AS l
    LEFT JOIN rates AS f ON f.source = l.source AND f.device = l.device
    LEFT JOIN low AS o ON o.source = l.source AND o.device = l.device
),
told AS (
    SELECT
        * EXCLUDE (to_empty),
        CASE WHEN empty THEN 0 WHEN per_week_high < 0 THEN to_empty / -per_week END AS days_left,
        CASE WHEN empty THEN 0 WHEN per_week_high < 0 THEN to_empty / -per_week_low END
            AS days_left_low,
        CASE WHEN empty THEN 0 WHEN per_week_high < 0 THEN to_empty / -per_week_high END
            AS days_left_high
    FROM lasting
)
SELECT
    * EXCLUDE (empty) REPLACE (
        CASE WHEN days_left <= setting('battery_horizon_days') THEN days_left END AS days_left,
        CASE WHEN days_left_low <= setting('battery_horizon_days') THEN days_left_low END
            AS days_left_low,
        CASE WHEN days_left_high <= setting('battery_horizon_days') THEN days_left_high END
            AS days_left_high
    ),
    CASE
        WHEN empty THEN 'counts as empty'
        WHEN days_left_low > setting('battery_horizon_days') THEN 'lasts more than '
            || setting('battery_horizon_days')::INTEGER || ' d at its own rate'
        WHEN days_left IS NOT NULL THEN 'lasts ' || number_text(days_left)
            || ' d at its own rate (95 %: ' || number_text(days_left_low) || ' to '
            || number_text(days_left_high) || ' d)'
        ELSE 'days left: not to be told, ' || CASE
            WHEN charge IS NULL THEN 'a voltage stays flat until near the end'
            WHEN weeks IS NULL THEN 'fewer than ' || setting('battery_min_weeks')::INTEGER
                || ' weeks of this battery'
            ELSE 'its charge is flat or too noisy' END
    END AS told
FROM told;

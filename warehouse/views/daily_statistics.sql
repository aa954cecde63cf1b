-- purpose: the daily roll-up every trend, baseline, held step and `since` is taken from (rule R5).
-- grain: one row a series and site-local day.
-- columns: series_id, day, readings, judged, unproven (judged without proof of running),
--          transient, stopped, distrusted (counts); bin (operating bin of most judged readings of
--          the day), in_bin (judged readings in it, count), median (of those), minimum, maximum
--          (canonical unit of the series; null without a judged reading), first_at, last_at (UTC,
--          judged readings); speed, slowest, fastest (/min of the reference shaft: the middle one, the
--          least, the greatest), speedless (count: judged without a known speed);
--          sustained, twice (greatest of the day), settled (least of the day), last_sustained,
--          last_settled, last_twice (of its last judged reading): as in readings_persistent.
-- depends: readings_doubted, readings_persistent
-- materialise: yes
CREATE OR REPLACE VIEW daily_statistics AS
WITH doubted AS (
    SELECT * FROM readings_doubted
),
days AS (
    SELECT
        series_id, day,
        count(*) AS readings,
        count(*) FILTER (usable) AS judged,
        count(*) FILTER (usable AND state = 'unknown') AS unproven,
        count(*) FILTER (doubt IS NULL AND state = 'transient') AS transient,
        count(*) FILTER (doubt IS NULL AND state = 'stopped') AS stopped,
        count(*) FILTER (doubt IS NOT NULL) AS distrusted,
        min(bin) FILTER (usable) AS bin,
        max(bin) FILTER (usable) AS highest_bin,
        count(bin) FILTER (usable) AS binned,
        median(value) FILTER (usable) AS median,
        min(value) FILTER (usable) AS minimum,
        max(value) FILTER (usable) AS maximum,
        min(ts) FILTER (usable) AS first_at,
        max(ts) FILTER (usable) AS last_at,
        quantile_disc(speed, 0.5) FILTER (usable) AS speed,
        min(speed) FILTER (usable) AS slowest,
        max(speed) FILTER (usable) AS fastest,
        count(*) FILTER (usable AND speed IS NULL) AS speedless
    FROM doubted
    GROUP BY series_id, day
),
-- On few days a machine is judged in more than one bin: only these are looked at again.
mixed AS (
    SELECT series_id, day FROM days
    WHERE bin < highest_bin OR binned BETWEEN 1 AND judged - 1
),
by_bin AS (
    SELECT series_id, day, bin, count(*) AS in_bin, median(value) AS median
    FROM doubted
    SEMI JOIN mixed USING (series_id, day)
    WHERE usable
    GROUP BY series_id, day, bin
),
main_bin AS (
    SELECT * FROM by_bin
    -- Of bins with as many readings the lower one: the same answer every time.
    QUALIFY row_number() OVER (PARTITION BY series_id, day ORDER BY in_bin DESC, bin) = 1
),
-- Apart from the rest: what goes through the windows below is sorted, and is to be narrow.
lasting AS (
    SELECT
        series_id, day, max(sustained) AS sustained, min(settled) AS settled, max(twice) AS twice,
        arg_max(sustained, ts) AS last_sustained, arg_max(settled, ts) AS last_settled,
        arg_max(twice, ts) AS last_twice
    FROM readings_persistent
    WHERE usable
    GROUP BY series_id, day
)
SELECT
    d.* EXCLUDE (bin, highest_bin, binned, median),
    CASE WHEN m.in_bin IS NULL THEN d.bin ELSE m.bin END AS bin,
    coalesce(m.in_bin, d.judged) AS in_bin,
    coalesce(m.median, d.median) AS median,
    l.* EXCLUDE (series_id, day)
FROM days AS d
LEFT JOIN main_bin AS m ON m.series_id = d.series_id AND m.day = d.day
LEFT JOIN lasting AS l ON l.series_id = d.series_id AND l.day = d.day;

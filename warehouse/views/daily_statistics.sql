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
-- depends: readings_persistent
-- materialise: yes
CREATE OR REPLACE VIEW daily_statistics AS
WITH by_bin AS (
    SELECT
        series_id, day, bin,
        count(*) AS readings,
        count(*) FILTER (usable) AS judged,
        count(*) FILTER (usable AND state = 'unknown') AS unproven,
        count(*) FILTER (doubt IS NULL AND state = 'transient') AS transient,
        count(*) FILTER (doubt IS NULL AND state = 'stopped') AS stopped,
        count(*) FILTER (doubt IS NOT NULL) AS distrusted,
        median(value) FILTER (usable) AS median,
        min(value) FILTER (usable) AS minimum,
        max(value) FILTER (usable) AS maximum,
        min(ts) FILTER (usable) AS first_at,
        max(ts) FILTER (usable) AS last_at,
        list(speed) FILTER (usable AND speed IS NOT NULL) AS speeds,
        count(*) FILTER (usable AND speed IS NULL) AS speedless,
        max(sustained) AS sustained,
        min(settled) AS settled,
        max(twice) AS twice,
        arg_max(sustained, ts) AS last_sustained,
        arg_max(settled, ts) AS last_settled,
        arg_max(twice, ts) AS last_twice
    FROM readings_persistent
    GROUP BY series_id, day, bin
)
SELECT
    series_id, day,
    sum(readings)::BIGINT AS readings,
    sum(judged)::BIGINT AS judged,
    sum(unproven)::BIGINT AS unproven,
    sum(transient)::BIGINT AS transient,
    sum(stopped)::BIGINT AS stopped,
    sum(distrusted)::BIGINT AS distrusted,
    -- Of bins with as many readings the lower one: the same answer every time.
    first(bin ORDER BY judged DESC, bin) AS bin,
    max(judged) AS in_bin,
    first(median ORDER BY judged DESC, bin) AS median,
    min(minimum) AS minimum,
    max(maximum) AS maximum,
    min(first_at) AS first_at,
    max(last_at) AS last_at,
    list_aggregate(flatten(list(speeds)), 'quantile_disc', 0.5) AS speed,
    list_min(flatten(list(speeds))) AS slowest,
    list_max(flatten(list(speeds))) AS fastest,
    sum(speedless)::BIGINT AS speedless,
    max(sustained) AS sustained,
    min(settled) AS settled,
    max(twice) AS twice,
    arg_max(last_sustained, last_at) AS last_sustained,
    arg_max(last_settled, last_at) AS last_settled,
    arg_max(last_twice, last_at) AS last_twice
FROM by_bin
GROUP BY series_id, day;

-- purpose: the daily roll-up every trend, baseline, held step and `since` is taken from (rule R5).
-- grain: one row a series and site-local day.
-- columns: series_id, day, readings, judged, unproven (judged without proof of running),
--          transient, stopped, distrusted (counts), median, minimum, maximum (canonical unit of
--          the series; null without a judged reading), first_at, last_at (UTC, judged readings);
--          sustained, twice (greatest of the day), settled (least of the day), last_sustained,
--          last_settled, last_twice (of its last judged reading): as in readings_persistent.
-- depends: readings_persistent
-- materialise: yes
CREATE OR REPLACE VIEW daily_statistics AS
SELECT
    series_id, day,
    count(*) AS readings,
    count(*) FILTER (WHERE usable) AS judged,
    count(*) FILTER (WHERE usable AND state = 'unknown') AS unproven,
    count(*) FILTER (WHERE doubt IS NULL AND state = 'transient') AS transient,
    count(*) FILTER (WHERE doubt IS NULL AND state = 'stopped') AS stopped,
    count(*) FILTER (WHERE doubt IS NOT NULL) AS distrusted,
    median(value) FILTER (WHERE usable) AS median,
    min(value) FILTER (WHERE usable) AS minimum,
    max(value) FILTER (WHERE usable) AS maximum,
    min(ts) FILTER (WHERE usable) AS first_at,
    max(ts) FILTER (WHERE usable) AS last_at,
    max(sustained) AS sustained,
    min(settled) AS settled,
    max(twice) AS twice,
    arg_max(sustained, ts) AS last_sustained,
    arg_max(settled, ts) AS last_settled,
    arg_max(twice, ts) AS last_twice
FROM readings_persistent
GROUP BY series_id, day;

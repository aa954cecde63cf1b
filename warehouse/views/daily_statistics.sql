-- purpose: the daily roll-up every trend, baseline and `since` is taken from (rule R5).
-- grain: one row a series and site-local day.
-- columns: series_id, day, readings, judged, unproven (judged without proof of running),
--          transient, stopped, distrusted (counts), median, minimum, maximum (canonical unit of
--          the series; null without a judged reading), first_at, last_at (UTC, judged readings),
--          speed, slowest, fastest (/min of the reference shaft: the middle one, the least, the
--          greatest), speedless (count: judged without a known speed).
-- depends: readings_doubted
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
    quantile_disc(speed, 0.5) FILTER (WHERE usable) AS speed,
    min(speed) FILTER (WHERE usable) AS slowest,
    max(speed) FILTER (WHERE usable) AS fastest,
    count(*) FILTER (WHERE usable AND speed IS NULL) AS speedless
FROM readings_doubted
GROUP BY series_id, day;

-- purpose: what each stream of vibration usually read before a day: the median of the days before.
-- grain: one row a stream and day of stream_days with enough days before it.
-- columns: stream_id, day, usual (unit of the series), usual_resolution (unit of the series).
-- depends: stream_days, streams, setting
-- materialise: yes
CREATE OR REPLACE VIEW stream_references AS
WITH before AS (
    SELECT
        d.stream_id, d.day, s.method,
        median(d.value) OVER recent AS usual, count(d.value) OVER recent AS days,
        median(d.resolution) OVER recent AS usual_resolution
    FROM stream_days AS d
    JOIN streams AS s ON s.stream_id = d.stream_id
    WINDOW recent AS (
        PARTITION BY d.stream_id ORDER BY d.day ROWS BETWEEN 30 PRECEDING AND 1 PRECEDING)
)
SELECT stream_id, day, usual, usual_resolution
FROM before
WHERE days >= CASE WHEN method = 'route' THEN setting('slip_visits') ELSE setting('slip_days') END;

-- purpose: the days of streams that are compared with those of other instruments and machines.
-- grain: one row a stream and site-local day, as in stream_days.
-- columns: stream_id, day, value (unit of the series), first_at (UTC).
-- depends: stream_days
-- materialise: yes
-- kept: stream_id
CREATE OR REPLACE VIEW compared_days AS
SELECT stream_id, day, value, first_at
FROM stream_days;

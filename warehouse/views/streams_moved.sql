-- purpose: streams whose channel sends the same from another place since.
-- grain: one row a stream that speaks no more because its channel moved.
-- columns: stream_id.
-- depends: streams
CREATE OR REPLACE VIEW streams_moved AS
SELECT stream_id
FROM streams
QUALIFY last_ts < max(last_ts) OVER (
    PARTITION BY source, device, channel, quantity, detector, band, feature, method);

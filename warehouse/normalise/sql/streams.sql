-- purpose: what is constant along a stream of readings
-- grain: one row a stream, numbered from 1 without gaps
SELECT
    stream_no::INTEGER AS stream_no,
    device, channel, quantity, detector, band, feature,
    site, asset, position, axis, unit, source_unit
FROM key_places
ORDER BY stream_no

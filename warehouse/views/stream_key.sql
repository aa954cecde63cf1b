-- purpose: the number of a stream, made of its key: the same every time.
-- grain: a macro over one value.
-- columns: BIGINT, 0 or more.
-- depends:
CREATE OR REPLACE MACRO stream_key(source, device, channel, site, asset, "position", axis, quantity,
        detector, band, feature, method) AS (
    (hash(source, device, channel, site, asset, "position", axis, quantity, detector, band,
        feature, method) >> 1)::BIGINT
);

-- purpose: where the items of each key belong, from when to when
-- grain: one row a key and placement interval; `series_no` counts in the order readings are stored in
CREATE OR REPLACE TABLE key_places AS
WITH placed AS (
    SELECT
        keys.* EXCLUDE (site, asset, position),
        placements.site,
        placements.asset,
        placements.position,
        CASE WHEN keys.vibration THEN coalesce(keys.stated_axis, placements.axis) END AS axis,
        placements.valid_from,
        placements.valid_to,
        placements.provisional
    FROM keys
    JOIN placements
        ON placements.place_rule = keys.place_rule
        AND placements.scope = keys.scope
        AND placements.name = keys.place_name
    WHERE keys.fault IS NULL
)
SELECT
    row_number() OVER (ORDER BY key_no, valid_from) AS stream_no,
    dense_rank() OVER (
        ORDER BY site, asset, position, axis, quantity, detector, band, feature
    ) AS series_no,
    dense_rank() OVER (ORDER BY site) AS site_no,
    *
FROM placed

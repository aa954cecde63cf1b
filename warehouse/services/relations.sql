-- purpose: rows of a published table or view, with the filters that were asked for
-- grain: each statement stands under its name; `rows` is put together with those of the filters

-- name: rows
SELECT @{columns} FROM @{name} AS r WHERE true @{conditions} ORDER BY ALL

-- name: site
AND list_contains($site::VARCHAR[], r.site)

-- name: asset
AND list_contains($asset::VARCHAR[], r.asset)

-- name: zone
AND list_contains($zone::VARCHAR[], r.zone)

-- name: level
AND list_contains($level::VARCHAR[], r.level)

-- name: area
AND (r.site, r.asset) IN (SELECT (site, asset) FROM assets WHERE list_contains($area::VARCHAR[], area))

-- name: criticality
AND (r.site, r.asset) IN (SELECT (site, asset) FROM assets WHERE list_contains($criticality::VARCHAR[], criticality))

-- name: class
AND (r.site, r.asset) IN (SELECT (site, asset) FROM members WHERE list_contains($class::VARCHAR[], equipment_class))

-- name: from
AND r.@{time} >= $from::TIMESTAMPTZ

-- name: to
AND r.@{time} < $to::TIMESTAMPTZ

-- name: readings
SELECT @{columns} FROM readings AS r
ANTI JOIN superseded AS s ON s.package = r.package AND s."row" = r."row"
WHERE r.ts <= $as_of::TIMESTAMPTZ @{conditions}
@{order}

-- name: place
AND r.@{column} IS NOT DISTINCT FROM $@{column}::VARCHAR

-- the lowest and the highest of each span of time, and the first and last of all: no peak is lost
-- name: thinned
WITH chosen AS (@{readings}),
series AS (
    SELECT *, dense_rank() OVER (
        ORDER BY site, asset, position, axis, quantity, detector, band, feature, method, device, channel
    ) AS line
    FROM chosen
),
spans AS (
    SELECT *, floor(
        (epoch_us(ts) - epoch_us(min(ts) OVER (PARTITION BY line)))
        * @{spans}::DOUBLE / (1 + epoch_us(max(ts) OVER (PARTITION BY line)) - epoch_us(min(ts) OVER (PARTITION BY line)))
    ) AS span
    FROM series
)
SELECT @{thinned} FROM spans
QUALIFY row_number() OVER (PARTITION BY line, span ORDER BY value, ts) = 1
    OR row_number() OVER (PARTITION BY line, span ORDER BY value DESC, ts) = 1
    OR row_number() OVER (PARTITION BY line ORDER BY ts) = 1
    OR row_number() OVER (PARTITION BY line ORDER BY ts DESC) = 1
ORDER BY site, asset, position, axis, quantity, detector, band, feature, method, device, channel, ts

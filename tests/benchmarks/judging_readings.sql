-- purpose: invented readings of a fleet of trains: speed, velocities, acceleration and temperature
-- grain: one row a train, series and hour before `end` from `first` (included) to `last` (not)
WITH trains AS (
    SELECT
        t AS train, 'works-' || (t % $sites + 1) AS site, printf('T-%04d', t) AS asset,
        printf('G-%02d-%04d', t // 40, t) AS device, 1 + 0.6 * (hash(t) % 1000) / 1000 AS size,
        t % 20 = 0 AS worsening
    FROM range($first_train, $last_train + 1) AS r(t)
),
hours AS (
    SELECT h, $end::TIMESTAMPTZ - to_hours(h) + to_minutes($minute) AS ts
    FROM range($last + 1, $first + 1) AS r(h)
),
series AS (
    SELECT * FROM (VALUES
        ('1', 'speed', 'value', NULL, 'motor-de', NULL, '/min', 1480.0, 2.0, 1.0),
        ('2', 'velocity', 'rms', '10-1000Hz', 'motor-de', 'horizontal', 'mm/s', 1.4, 0.08, 0.01),
        ('3', 'velocity', 'rms', '10-1000Hz', 'pump-de', 'horizontal', 'mm/s', 1.6, 0.10, 0.01),
        ('4', 'acceleration', 'rms', '1000-10000Hz', 'pump-de', 'horizontal', 'm/s2', 6.0, 0.5, 0.1),
        ('5', 'temperature', 'value', NULL, 'pump-de', NULL, 'Cel', 48.0, 0.6, 0.1)
    ) AS v(channel, quantity, detector, band, position, axis, unit, level, scatter, step)
),
drawn AS (
    SELECT
        t.*, h.h, h.ts, s.*,
        -- a number between 0 and 1 that is the same every time
        (hash(t.train, s.channel, h.h, $minute) % 1000000) / 1e6 AS dice
    FROM trains AS t, hours AS h, series AS s
)
SELECT
    'bench' AS source, device, channel, quantity, detector, band, 'overall' AS feature,
    'wireless' AS method, ts, 0::INTEGER AS take, 'device' AS ts_source,
    'second' AS ts_precision, ts AS received_at, NULL::TIMESTAMPTZ AS issued_at,
    NULL::BIGINT AS sequence, site, asset, position, axis,
    round((CASE WHEN quantity = 'speed' THEN level ELSE level * size END
        + scatter * (2 * dice - 1)
        + CASE WHEN worsening AND quantity = 'velocity' THEN 2.0 * greatest(0, 1 - h / 1200.0)
            ELSE 0 END) / step) * step AS value,
    unit, NULL::DOUBLE AS source_value, unit AS source_unit, step::DOUBLE AS resolution,
    'good' AS quality, NULL::VARCHAR AS reason, NULL::VARCHAR AS note,
    $package::BIGINT AS package, row_number() OVER ()::BIGINT AS row,
    'bench@@00000000' AS mapping
FROM drawn
ORDER BY site, ts::DATE, device, channel, ts

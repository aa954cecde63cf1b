-- purpose: what each kind of item is (identity, unit, place rule), and whether it can be a reading
-- grain: one row a set of attribute words and measure; key_no = (set_no - 1) x measures + measure
CREATE OR REPLACE TABLE keys AS
WITH spoken AS (
    SELECT
        attribute_sets.set_no,
        plan.measure,
        plan.attribute,
        coalesce(plan.constant, attribute_words.code, attribute_sets.words[plan.word]) AS spoken
    FROM attribute_sets
    CROSS JOIN attribute_plan AS plan
    LEFT JOIN attribute_words
        ON attribute_words.measure = plan.measure
        AND attribute_words.attribute = plan.attribute
        AND attribute_words.sent = attribute_sets.words[plan.word]
),
wide AS (
    SELECT set_no, measure, @{attributes} FROM spoken GROUP BY set_no, measure
),
ruled AS (
    SELECT
        wide.* EXCLUDE (unit, feature, axis),
        wide.unit AS source_unit,
        coalesce(wide.feature, 'overall') AS feature,
        wide.axis AS stated_axis,
        unit_rules.unit,
        unit_rules.factor,
        unit_rules.offset,
        unit_rules.plausible,
        wide.quantity IN (SELECT quantity FROM unit_rules WHERE vibration) AS vibration,
        wide.detector IN (
            'rms', 'peak', 'derived-peak', 'peak-unspecified', 'peak-to-peak',
            'derived-peak-to-peak', 'crest-factor', 'kurtosis'
        ) AS never_negative,
        wide.quantity IN (SELECT quantity FROM unit_rules) AS quantity_known,
        wide.detector IN (SELECT detector FROM unit_rules) AS detector_known,
        wide.unit IN (SELECT source_unit FROM unit_rules) AS unit_known,
        CASE WHEN wide.route IS NOT NULL THEN 'stop'
             WHEN wide.asset IS NOT NULL THEN 'point'
             ELSE 'mounting' END AS place_rule
    FROM wide
    LEFT JOIN unit_rules
        ON unit_rules.quantity = wide.quantity
        AND unit_rules.detector = wide.detector
        AND unit_rules.source_unit = wide.unit
)
SELECT
    (set_no - 1) * $measures + measure AS key_no,
    dense_rank() OVER (ORDER BY device, channel, quantity, detector, band, feature) AS identity_no,
    * EXCLUDE (quantity_known, detector_known, unit_known),
    CASE place_rule WHEN 'mounting' THEN device WHEN 'stop' THEN route
         ELSE coalesce(site, '') || '/' || asset END AS scope,
    CASE place_rule WHEN 'point' THEN coalesce(position, '') ELSE channel END AS place_name,
    CASE
        WHEN device IS NULL OR channel IS NULL THEN 'blank-identity'
        WHEN quantity_known IS NOT TRUE THEN 'unknown-quantity'
        WHEN detector_known IS NOT TRUE THEN 'unknown-detector'
        WHEN unit_known IS NOT TRUE THEN 'unknown-unit'
        WHEN factor IS NULL THEN 'unit-mismatch'
        WHEN vibration AND band IS NULL THEN 'bad-band'
        WHEN NOT coalesce(regexp_full_match(band, $band_pattern), true) THEN 'bad-band'
        WHEN TRY_CAST(split_part(band, '-', 1) AS DOUBLE)
            >= TRY_CAST(rtrim(split_part(band, '-', 2), 'Hz') AS DOUBLE) THEN 'bad-band'
    END AS fault,
    CASE
        WHEN EXISTS (
            SELECT 1 FROM placements
            WHERE placements.place_rule = ruled.place_rule
                AND placements.scope = CASE ruled.place_rule
                    WHEN 'mounting' THEN ruled.device WHEN 'stop' THEN ruled.route
                    ELSE coalesce(ruled.site, '') || '/' || ruled.asset END
                AND placements.name = CASE ruled.place_rule
                    WHEN 'point' THEN coalesce(ruled.position, '') ELSE ruled.channel END
        ) THEN 'not-mounted'
        WHEN place_rule = 'stop' THEN 'unknown-stop'
        WHEN place_rule = 'point' THEN 'unknown-point'
        WHEN device IN (SELECT scope FROM placements WHERE place_rule = 'mounting')
        THEN 'unknown-channel'
        ELSE 'unknown-device'
    END AS unplaced_reason
FROM ruled

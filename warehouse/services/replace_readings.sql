-- purpose: the readings to write, with their new place and as rows of their re-placing package
-- grain: one row a reading, in stored order
SELECT * EXCLUDE (ended_by, new_row, new_site, new_asset, new_position, new_axis, provisional)
    REPLACE (
        ended_by AS package, new_row AS row, new_site AS site, new_asset AS asset,
        new_position AS position, new_axis AS axis,
        CASE WHEN provisional AND quality = 'good' THEN 'suspect'
             WHEN NOT provisional AND reason = 'provisional-mounting' THEN 'good'
             ELSE quality END AS quality,
        CASE WHEN provisional AND quality = 'good' THEN 'provisional-mounting'
             WHEN NOT provisional AND reason = 'provisional-mounting' THEN NULL
             ELSE reason END AS reason
    ),
    strftime(ts, '%Y-%m') AS p_month
FROM written
ORDER BY new_site, p_month, ts::DATE, new_asset, new_position, new_axis, quantity, detector, band,
    feature, method, ts, ended_by, new_row

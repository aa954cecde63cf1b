-- purpose: what the operating bins of an asset are counted from (rule S3).
-- grain: one row an asset.
-- columns: site, asset, reference_speed (/min: rated speed of its driver, else of any machine, else
--          1000), variable (a machine of it can run at speeds that differ by more than one bin).
-- depends: setting
-- materialise: yes
CREATE OR REPLACE VIEW bin_references AS
SELECT
    a.site, a.asset,
    coalesce(max(m.rated_speed) FILTER (m.role = 'driver'), max(m.rated_speed), 1000)
        AS reference_speed,
    coalesce(bool_or(m.max_speed > m.min_speed * (1 + 2 * setting('bin_speed_share'))), false)
        AS variable
FROM assets AS a
LEFT JOIN members AS m ON m.site = a.site AND m.asset = a.asset
GROUP BY a.site, a.asset;

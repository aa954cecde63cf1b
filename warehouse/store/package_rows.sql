-- purpose: what the tables hold of some packages: their readings, and how many earlier readings
--          they revised
-- grain: one row a package that has readings
SELECT
    package,
    count(*) AS stored,
    (
        SELECT count(*) FROM superseded
        WHERE superseded.ended_by = readings.package AND superseded.why = 'revision'
    ) AS revised
FROM readings
WHERE list_contains($packages::BIGINT[], package)
GROUP BY package

-- purpose: stored readings that count and whose channel or stop the registry has changed; all that
--          count where nobody knows by which registry they were placed
-- grain: one row a reading
CREATE OR REPLACE TEMP VIEW candidates AS
SELECT stored_rows.* FROM stored_rows
ANTI JOIN superseded
    ON superseded.package = stored_rows.package AND superseded.row = stored_rows.row
WHERE @{all}
    OR (device, channel) IN (SELECT (scope, name) FROM touched WHERE place_rule = 'mounting')
    OR channel IN (SELECT name FROM touched WHERE place_rule = 'stop')

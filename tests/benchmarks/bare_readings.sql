-- purpose: readings whose daily medians are near those of the fleet: some a day about each
-- grain: one row a reading
CREATE OR REPLACE TEMP TABLE bare_readings AS
SELECT series_id, day, median * (0.9 + 0.2 * random()) AS value
FROM daily_statistics, range($a_day)

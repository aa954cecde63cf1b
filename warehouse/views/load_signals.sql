-- purpose: the load of an asset, moment by moment, where a source gives it (rule S3).
-- grain: one row an asset and moment.
-- columns: train (number made of site and asset), site, asset, ts (UTC), load (1: share of the rated load).
-- depends: readings_current, train_key
-- materialise: yes
CREATE OR REPLACE VIEW load_signals AS
SELECT train_key(site, asset) AS train, site, asset, ts, max(value) AS load
FROM readings_current
WHERE quantity = 'load' AND quality = 'good' AND value IS NOT NULL
GROUP BY ALL;

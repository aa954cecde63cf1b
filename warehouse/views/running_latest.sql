-- purpose: the newest evidence of running of each asset.
-- grain: one row an asset with any.
-- columns: those of running_signals.
-- depends: running_signals
-- materialise: yes
-- kept: site, asset
CREATE OR REPLACE VIEW running_latest AS
SELECT *
FROM running_signals
QUALIFY row_number() OVER (PARTITION BY site, asset ORDER BY ts DESC) = 1;

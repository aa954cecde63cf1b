-- purpose: the series whose steps and trends are fitted anew: every one. The judge puts those here
--          that changed, or began another day, since it fitted them last.
-- grain: one row a series.
-- columns: series_id.
-- depends: trend_bins
CREATE OR REPLACE VIEW trends_due AS
SELECT series_id
FROM trend_bins;

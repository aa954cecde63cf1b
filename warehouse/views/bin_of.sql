-- purpose: operating bin of a speed and a load (rule S3): speeds within some +-5 % of a centre, loads
--          in steps of 25 %. Bins of speed are counted from a reference, 16 apart; of load from 0.
-- grain: scalar macro; null without a speed.
-- columns: one number; bin_text says it in words.
-- depends: setting
CREATE OR REPLACE MACRO bin_of(speed, reference_speed, load) AS (
    16 * CAST(round(ln(speed / reference_speed) / ln(1 + 2 * setting('bin_speed_share')))
        AS INTEGER)
    -- least and greatest pass over a null
    + CASE WHEN load IS NULL THEN 15
        ELSE CAST(least(14, greatest(0, floor(load / setting('bin_load_share')))) AS INTEGER) END
);

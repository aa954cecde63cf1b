-- purpose: an operating bin in words.
-- grain: scalar macro; null for no bin.
-- columns: text, with the speed in the middle of the bin and the range of the load.
-- depends: number_text, setting
CREATE OR REPLACE MACRO bin_text(bin, reference_speed) AS (
    'about ' || number_text(reference_speed
        * pow(1 + 2 * setting('bin_speed_share'), floor(bin / 16))) || ' r/min'
    || CASE WHEN bin % 16 IN (15, -1) THEN '' ELSE ', load '
        || number_text(100 * setting('bin_load_share') * ((bin % 16 + 16) % 16)) || ' to '
        || number_text(100 * setting('bin_load_share') * ((bin % 16 + 16) % 16 + 1)) || ' %' END
);

-- purpose: can this quantity, in this band, show early bearing and gear damage (rule J3)?
-- grain: scalar macro over a quantity and a band (LOW-HIGHHz).
-- columns: true or false; acceleration of a band not stated is taken as able.
-- depends: setting
CREATE OR REPLACE MACRO is_high_frequency(quantity, band) AS (
    quantity = 'acceleration-envelope' OR quantity = 'acceleration'
        AND coalesce(TRY_CAST(regexp_extract(band, '-([0-9.]+)Hz$', 1) AS DOUBLE)
            >= setting('hf_reach_hz'), true)
);

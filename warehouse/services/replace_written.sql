-- purpose: waiting readings that have a place now; of several with one identity the last ended
-- grain: one row a reading
CREATE OR REPLACE TABLE written AS
SELECT * FROM (@{placed})
WHERE new_site IS NOT NULL
QUALIFY row_number() OVER (PARTITION BY @{identity} ORDER BY ended_by DESC, new_row DESC) = 1

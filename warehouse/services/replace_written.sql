-- purpose: waiting readings that have a place now
-- grain: one row a reading
CREATE OR REPLACE TABLE written AS
SELECT * FROM (@{placed})
WHERE new_site IS NOT NULL

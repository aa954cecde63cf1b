-- purpose: readings whose stored place, or doubt about their mounting, is no longer the registry's
-- grain: one row a reading, at most $most, all of $source ('*' is any) or of the first source that has any
CREATE OR REPLACE TABLE moved AS
WITH moved_of_all AS (
    SELECT package, row, source, new_site IS NOT NULL AS placed FROM (@{placed})
    WHERE new_site IS DISTINCT FROM site
        OR new_asset IS DISTINCT FROM asset
        OR new_position IS DISTINCT FROM position
        OR new_axis IS DISTINCT FROM axis
        OR (provisional AND quality = 'good')
        OR (NOT provisional AND reason = 'provisional-mounting')
)
SELECT * FROM moved_of_all
WHERE $source = '*' OR source = coalesce($source::VARCHAR, (SELECT min(source) FROM moved_of_all))
LIMIT $most

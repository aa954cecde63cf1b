-- purpose: readings whose stored place, or doubt about their mounting, is no longer the registry's
-- grain: one row a reading, at most $most; `unplaced` are those on no machine now
CREATE OR REPLACE TABLE moved AS
SELECT package, row, new_site IS NULL AS unplaced FROM (@{placed})
WHERE new_site IS DISTINCT FROM site
    OR new_asset IS DISTINCT FROM asset
    OR new_position IS DISTINCT FROM position
    OR new_axis IS DISTINCT FROM axis
    OR (provisional AND quality = 'good')
    OR (NOT provisional AND reason = 'provisional-mounting')
LIMIT $most

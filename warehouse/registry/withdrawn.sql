-- purpose: entities that were taken back and do not stand again
-- grain: one row an entity
SELECT entity, id FROM events
QUALIFY row_number() OVER (PARTITION BY entity, id ORDER BY event_set DESC, recorded_at DESC) = 1
    AND body IS NULL

-- purpose: the entities of one kind as last stated
-- grain: one row an entity
WITH last_events AS (
    SELECT body FROM events
    WHERE entity = $entity
    QUALIFY row_number() OVER (PARTITION BY id ORDER BY event_set DESC, recorded_at DESC) = 1
),
spread AS (
    SELECT unnest(json_transform(body, $structure)) FROM last_events WHERE body IS NOT NULL
)
SELECT * FROM spread ORDER BY @{order}

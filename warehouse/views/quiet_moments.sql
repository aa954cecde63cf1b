-- purpose: when what a device reads beside velocity is doubted as its velocity is: all it reads of
--          velocity at the position is far below its own history and nothing proves running (rule J9).
--          A machine at rest, or a loose sensor, is so for every quantity.
-- grain: one row a stream of acceleration, envelope or displacement and such a moment.
-- columns: stream_id, ts (UTC).
-- depends: running_states, streams, quiet_references, is_quiet
-- materialise: yes
CREATE OR REPLACE VIEW quiet_moments AS
WITH quiet AS (
    SELECT DISTINCT r.stream_id
    FROM running_states AS r
    JOIN quiet_references AS q ON q.series_id = r.series_id
    WHERE is_quiet(r.state, r.value, q.usual_value)
),
places AS (
    SELECT DISTINCT s.source, s.device, s.site, s.asset, s.position
    FROM streams AS s
    SEMI JOIN quiet AS q ON q.stream_id = s.stream_id
),
mates AS (
    SELECT a.stream_id, b.stream_id AS velocity_id
    FROM places AS p
    JOIN streams AS a USING (source, device, site, asset, position)
    JOIN streams AS b USING (source, device, site, asset, position)
    WHERE b.quantity = 'velocity' AND a.quantity IN ('acceleration', 'acceleration-envelope',
        'displacement', 'shaft-displacement')
)
SELECT m.stream_id, r.ts
FROM mates AS m
JOIN running_states AS r ON r.stream_id = m.velocity_id
LEFT JOIN quiet_references AS q ON q.series_id = r.series_id
GROUP BY m.stream_id, r.ts
HAVING bool_and(coalesce(is_quiet(r.state, r.value, q.usual_value), false));

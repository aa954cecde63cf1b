-- purpose: a fingerprint of what each stream read a day, to find channels that tell the same.
-- grain: one row a stream and site-local day on which it read more than one value.
-- columns: stream_id, day, readings (count), fingerprint (of its values in whatever order: two
--          channels may send moments apart), first_at, last_at (UTC).
-- depends: running_states
-- materialise: yes
-- kept: stream_id
CREATE OR REPLACE VIEW copy_days AS
SELECT
    stream_id, day, count(*) AS readings, sum(hash(value)::HUGEINT) AS fingerprint,
    min(ts) AS first_at, max(ts) AS last_at
FROM running_states
WHERE quality = 'good' AND value IS NOT NULL
GROUP BY ALL
HAVING min(value) < max(value);

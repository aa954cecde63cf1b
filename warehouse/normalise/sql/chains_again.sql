-- purpose: compare each item with the last kept value before it, where digits differ: 2.14 is the
--          same as 2.1, and yet not the same as the 2.10 that 2.1 is a copy of
-- grain: one row, how many are judged otherwise than before; to be run until there are none
-- A run sets right at least the first value of an identity that was judged wrongly.
UPDATE chains SET kept = NOT chains.kept
FROM (
    SELECT *,
        last_value(CASE WHEN kept THEN {'value': value, 'resolution': resolution} END IGNORE NULLS)
            OVER before AS kept_before
    FROM chains
    SEMI JOIN (
        SELECT identity_no, ts, take FROM chains
        GROUP BY identity_no, ts, take
        HAVING count(*) > 2 AND min(resolution) < max(resolution)
    ) AS doubtful USING (identity_no, ts, take)
    WINDOW before AS (
        PARTITION BY identity_no, ts, take ORDER BY place
        ROWS BETWEEN UNBOUNDED PRECEDING AND 1 PRECEDING
    )
) AS again
WHERE again.identity_no = chains.identity_no AND again.ts = chains.ts AND again.take = chains.take
    AND again.place = chains.place
    AND chains.file_no IS NOT NULL AND again.kept_before IS NOT NULL
    AND chains.kept = same_value(
        again.value, again.resolution, again.kept_before.value, again.kept_before.resolution
    )

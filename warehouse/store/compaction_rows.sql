-- purpose: a multiset of rows in three numbers that do not depend on their order: how many rows,
--          the sum of the hashes of their keys, the sum of the hashes of the whole rows
-- grain: one row
SELECT
    count(*),
    coalesce(sum(hash(@{key})::HUGEINT), 0)::VARCHAR,
    coalesce(sum(hash(@{columns})::HUGEINT), 0)::VARCHAR
FROM @{name}

-- purpose: what the judge works out anew beside what it kept of the judgement before
-- grain: stands at each statement

-- name: beside_kept
-- the rows of a view: those due as its query gives them, the others as they were
CREATE OR REPLACE TEMPORARY TABLE @{name} AS
SELECT * FROM (@{query}) AS due
SEMI JOIN @{due} USING (@{key})
UNION ALL BY NAME
SELECT * FROM kept.@{name}
ANTI JOIN @{due} USING (@{key})

-- name: series_due
-- one row a series of a machine that is due, those that are no more included
CREATE OR REPLACE TEMPORARY TABLE series_due AS
SELECT series_id FROM series SEMI JOIN machines_due USING (site, asset)
UNION
SELECT series_id FROM kept.series SEMI JOIN machines_due USING (site, asset)

-- name: streams_due
-- one row a stream of a machine that is due, those that are no more included
CREATE OR REPLACE TEMPORARY TABLE streams_due AS
SELECT stream_id FROM streams SEMI JOIN machines_due USING (site, asset)
UNION
SELECT stream_id FROM kept.streams SEMI JOIN machines_due USING (site, asset)

-- name: trends_due
-- one row a series that is due, or whose day is another one than when it was fitted
CREATE OR REPLACE TEMPORARY TABLE trends_due AS
SELECT series_id FROM series_due
UNION
SELECT b.series_id FROM trend_bins AS b ANTI JOIN kept.trend_bins USING (series_id, today)

-- name: doubted_otherwise
-- one row a machine that is not due, and whose readings are doubted otherwise than they were
WITH now AS (SELECT stream_id, check_code, since, until, at_least FROM trust_doubts),
before AS (SELECT stream_id, check_code, since, until, at_least FROM kept.trust_doubts),
changed AS ((FROM now EXCEPT FROM before) UNION (FROM before EXCEPT FROM now))
SELECT DISTINCT s.site, s.asset
FROM streams AS s
SEMI JOIN changed USING (stream_id)
ANTI JOIN machines_due USING (site, asset)
ORDER BY ALL

-- name: nothing
SELECT 1 WHERE false

-- purpose: what a kept judgement says of itself
-- grain: stands at each statement

-- name: record
-- one row: what it was made with, as of when, from which versions of the tables (JSON)
CREATE TABLE fresh.state AS
SELECT $made_with AS made_with, $as_of::TIMESTAMPTZ AS as_of, $versions AS versions

-- name: state
SELECT made_with, as_of, versions FROM kept.state

-- name: keep
-- the rows of a working table
CREATE TABLE fresh.@{name} AS FROM temp.@{name}

-- purpose: what a caller limited to some sites sees of tables that hold all of them
-- grain: each statement stands under its name; it makes a table of the same rows, fewer

-- tables that say of each row which site it is of
-- name: by_site
CREATE TEMPORARY TABLE @{name} AS FROM every_@{name} WHERE list_contains($sites, site)

-- name: rejects
CREATE TEMPORARY TABLE rejects AS FROM every_rejects WHERE list_contains($sources, source)

-- name: superseded
CREATE TEMPORARY TABLE superseded AS FROM every_superseded SEMI JOIN readings USING (package, "row")

-- the events of all sites stand in one log; the entities of its own a caller has as tables
-- name: registry
CREATE TEMPORARY TABLE registry AS FROM every_registry LIMIT 0

-- name: snapshots
CREATE TEMPORARY TABLE snapshots AS FROM every_snapshots

-- steps name devices, which serve several sites in turn; that a mounting has passed stands with it
-- name: commissioning_steps
CREATE TEMPORARY TABLE commissioning_steps AS FROM every_commissioning_steps LIMIT 0

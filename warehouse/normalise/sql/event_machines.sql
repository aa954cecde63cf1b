-- purpose: macros for the words of events; machines by tag and by external id
-- grain: event_objects: one row an external id; a machine only where one alone has it
CREATE OR REPLACE MACRO said(text, nulls) AS
    CASE WHEN trim(text) = '' OR list_contains(nulls, trim(text)) THEN NULL ELSE trim(text) END;
CREATE OR REPLACE MACRO translated(which, word) AS
    coalesce((SELECT max(t.code) FROM event_translations AS t
        WHERE t.attribute = which AND t.sent = word), word);
CREATE OR REPLACE MACRO constant_of(which) AS
    (SELECT max(t.code) FROM event_constants AS t WHERE t.attribute = which);
CREATE OR REPLACE TABLE event_objects AS
SELECT
    external_id, count(*) AS machines, any_value(site) AS site, any_value(asset) AS asset,
    any_value(member) AS member
FROM (
    SELECT external_id, site, asset, member FROM registered_members
    UNION ALL
    SELECT external_id, site, asset, NULL FROM registered_assets
)
WHERE external_id IS NOT NULL
GROUP BY external_id;

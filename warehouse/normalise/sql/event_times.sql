-- purpose: one time of every record as an instant, or why there is none
-- grain: one row a record
CREATE OR REPLACE TABLE event_@{name} AS
WITH parsed AS (
    SELECT file_no, line, "@{name}" AS text, @{local} AS local, @{instant} AS instant
    FROM event_words
),
placed AS (
    SELECT *, timezone('@{zone}', local) AS earlier
    FROM parsed
)
SELECT
    file_no, line, text,
    coalesce(timezone('UTC', instant), earlier) AS moment,
    CASE
        WHEN text IS NULL THEN NULL
        WHEN instant IS NOT NULL THEN NULL
        WHEN local IS NULL THEN 'bad-time'
        WHEN timezone('@{zone}', earlier) <> local THEN 'missing-hour'
        WHEN timezone('@{zone}', earlier + INTERVAL 1 HOUR) = local
            OR timezone('@{zone}', earlier - INTERVAL 1 HOUR) = local THEN 'ambiguous-hour'
    END AS reason
FROM placed;

-- purpose: notices of a common cause, for one site if asked; those of late, or all
-- grain: one row a notice
SELECT *
FROM common_causes
WHERE ($site IS NULL OR site IS NULL OR site = $site)
    AND ($ended OR until > CAST(getvariable('as_of') AS TIMESTAMPTZ)
        - to_days(setting('trust_recent_days')::INTEGER))
ORDER BY since, source NULLS FIRST, site

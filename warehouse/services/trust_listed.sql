-- purpose: what the trust checks found, for one site or check if asked; what is so now, or all
-- grain: one row a finding
SELECT *
FROM trust_findings
WHERE ($site IS NULL OR site = $site) AND ($check IS NULL OR check_code = $check)
    AND ($ended OR until IS NULL)
ORDER BY site NULLS FIRST, asset NULLS FIRST, position NULLS FIRST, axis NULLS FIRST, check_code,
    source NULLS FIRST, device, channel NULLS FIRST, quantity NULLS FIRST, since

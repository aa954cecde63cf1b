-- purpose: machines of which no case is wanted for a time, by whom and why (rule W1).
-- grain: one row a suppression in force.
-- columns: site, asset, member, basis (null: whatever it is), until (UTC), person, reason, since (UTC).
-- depends:
CREATE OR REPLACE VIEW case_suppressions AS
SELECT site, asset, member, basis, until, person, comment AS reason, acted_at AS since
FROM (
    SELECT * FROM case_actions
    WHERE kind IN ('suppress', 'release')
    QUALIFY row_number() OVER (PARTITION BY site, asset, member, basis ORDER BY seq DESC) = 1
)
WHERE kind = 'suppress' AND until > CAST(getvariable('as_of') AS TIMESTAMPTZ);

-- purpose: which reason for `unknown` is told first: the one somebody can act on.
-- grain: scalar macro over a basis.
-- columns: 1 is told first.
-- depends:
CREATE OR REPLACE MACRO basis_rank(basis) AS (
    coalesce(list_position(
        ['severity', 'trend', 'hf-change', 'change', 'temperature', 'background', 'verify',
         'distrusted', 'stopped-or-loose', 'no-fresh-reading',
         'peak-only', 'band-blind', 'never-measured', 'stopped', 'laid-up', 'unjudged',
         'part-unknown', 'for-information',
         'no-baseline', 'change-only', 'no-points'], basis), 99)
);

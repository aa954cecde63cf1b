-- purpose: the limit set of every registered point in each direction: its own assignment where one
--          is in force, else that of its member (rules M2, M4).
-- grain: one row a position and direction (axial, horizontal, vertical, radial = not known which).
-- columns: position, and the columns of members_limits without its position.
-- depends: members_limits
-- materialise: yes
CREATE OR REPLACE VIEW points_limits AS
SELECT p.position, m.* EXCLUDE (position)
FROM points AS p
JOIN members_limits AS m
    ON m.site = p.site AND m.asset = p.asset AND m.member = p.member
    AND (m.position IS NULL OR m.position = p.position)
QUALIFY row_number() OVER (
    PARTITION BY p.site, p.asset, p.position, m.direction ORDER BY m.position NULLS LAST) = 1;

-- purpose: identities of the batch that the store holds several values of are `repeated` ones too
-- grain: one row an identity
INSERT INTO repeated
SELECT DISTINCT stored.identity_no, stored.ts, stored.take
FROM stored
SEMI JOIN (SELECT * FROM items WHERE fault IS NULL) AS candidates
    ON candidates.identity_no = stored.identity_no
    AND candidates.ts = stored.ts
    AND candidates.take = stored.take
ANTI JOIN repeated
    ON repeated.identity_no = stored.identity_no
    AND repeated.ts = stored.ts
    AND repeated.take = stored.take
WHERE stored.ended

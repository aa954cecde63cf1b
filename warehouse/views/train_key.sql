-- purpose: the number of a machine train, made of its site and asset: the same every time.
-- grain: a macro over one value.
-- columns: BIGINT, 0 or more.
-- depends:
CREATE OR REPLACE MACRO train_key(site, asset) AS (
    (hash(site, asset) >> 1)::BIGINT
);

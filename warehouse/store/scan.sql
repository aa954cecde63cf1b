-- purpose: the data files of one table at one version
-- grain: that of the table
CREATE OR REPLACE VIEW @{name} AS
SELECT * FROM read_parquet(getvariable('@{name}_files'), schema = MAP {@{columns}})

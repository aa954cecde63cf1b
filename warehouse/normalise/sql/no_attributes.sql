-- purpose: the one set of words of a mapping that takes no attribute from the file
-- grain: one row
CREATE OR REPLACE TABLE attribute_sets AS SELECT 1::BIGINT AS set_no, []::VARCHAR[] AS words

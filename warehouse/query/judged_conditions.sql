-- purpose: the conditions of one scope as the judge last wrote them, under the name of the view
--          that works them out; whoever asks gets the judged rows, and at once
-- grain: one row a place of that scope
CREATE OR REPLACE TEMP VIEW @{scope}_conditions AS
SELECT * FROM condition_current WHERE scope = '@{scope}'

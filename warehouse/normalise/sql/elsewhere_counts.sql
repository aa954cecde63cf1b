-- purpose: items refused because their reading is another site's
-- grain: one row a file that has any
SELECT file_no, count(*) AS items FROM items WHERE fault = 'other-site' GROUP BY file_no

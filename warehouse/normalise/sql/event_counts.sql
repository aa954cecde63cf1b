-- purpose: what the records of each file came to
-- grain: one row a file
SELECT
    p.file_no, p.package,
    (SELECT count(*) FROM event_items AS i WHERE i.file_no = p.file_no)
        + (SELECT count(*) FROM batch_refused AS r WHERE r.file_no = p.file_no) AS items,
    (SELECT count(*) FROM event_fates AS f WHERE f.file_no = p.file_no AND NOT copy
        AND NOT known) AS accepted,
    (SELECT count(*) FROM event_fates AS f WHERE f.file_no = p.file_no AND copy) AS duplicate,
    (SELECT count(*) FROM event_fates AS f WHERE f.file_no = p.file_no AND NOT copy
        AND known) AS revised
FROM event_packages AS p
ORDER BY p.file_no

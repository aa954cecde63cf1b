-- purpose: leave out readings that another one of the same identity has stood in for meanwhile
-- grain: one row a reading
DELETE FROM written WHERE (ended_by, new_row) IN (
    SELECT (written.ended_by, written.new_row) FROM written
    JOIN (
        SELECT all_rows.* FROM all_rows ANTI JOIN superseded
            ON superseded.package = all_rows.package AND superseded.row = all_rows.row
    ) AS standing ON @{same_reading}
    WHERE written.ended_by <> $package
)

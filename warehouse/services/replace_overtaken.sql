-- purpose: of readings that come back and others of the same identity, all but the one that counts:
--          the one issued (else received) last, then of the higher package
-- grain: one row a reading, as `superseded` ends it
-- What is moved by package $package counts, where it has a place, as the row it will be there.
CREATE OR REPLACE TABLE overtaken AS
WITH coming AS (
    SELECT @{identity}, ended_by AS package, new_row AS row,
        coalesce(issued_at, received_at) AS issued
    FROM written
    ANTI JOIN superseded
        ON superseded.package = written.ended_by AND superseded.row = written.new_row
),
moving AS (
    SELECT package, row, placed, row_number() OVER (ORDER BY package, row) AS new_row FROM moved
),
standing AS (
    SELECT all_rows.* FROM all_rows
    SEMI JOIN coming ON @{same_reading}
    ANTI JOIN superseded
        ON superseded.package = all_rows.package AND superseded.row = all_rows.row
),
candidates AS (
    SELECT * FROM coming
    UNION ALL
    SELECT @{identity},
        if(moving.row IS NULL, standing.package, $package::BIGINT) AS package,
        coalesce(moving.new_row, standing.row) AS row,
        coalesce(issued_at, received_at) AS issued
    FROM standing
    LEFT JOIN moving ON moving.package = standing.package AND moving.row = standing.row
    WHERE coalesce(moving.placed, true)
),
ranked AS (
    SELECT package, row,
        first_value(package) OVER best_first AS winner,
        row_number() OVER best_first AS place
    FROM candidates
    WINDOW best_first AS (
        PARTITION BY @{identity} ORDER BY issued DESC, package DESC, row DESC
    )
)
SELECT package, row, winner AS ended_by FROM ranked WHERE place > 1

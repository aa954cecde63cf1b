-- purpose: of readings that come back and others of the same identity, all but the one that counts:
--          the one issued (else received) last, then of the higher package, as they were sent
-- grain: one row a reading, as `superseded` ends it
-- What is moved by package $package counts, where it has a place, as the row it will be there.
CREATE OR REPLACE TABLE overtaken AS
WITH RECURSIVE coming AS (
    SELECT @{identity}, ended_by AS package, new_row AS row,
        coalesce(issued_at, received_at) AS issued,
        written.package AS was_package, written.row AS was_row
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
        coalesce(issued_at, received_at) AS issued,
        standing.package AS was_package, standing.row AS was_row
    FROM standing
    LEFT JOIN moving ON moving.package = standing.package AND moving.row = standing.row
    WHERE coalesce(moving.placed, true)
),
copies AS (
    SELECT package, row, ended_by,
        row_number() OVER (PARTITION BY ended_by ORDER BY package, row) AS copy_row
    FROM superseded WHERE why = 're-placed'
),
-- Back to the row as it was sent: what has no row before it.
origins AS (
    SELECT was_package, was_row, was_package AS sent_package, was_row AS sent_row FROM candidates
    UNION
    SELECT origins.was_package, origins.was_row, copies.package, copies.row
    FROM origins
    JOIN copies ON copies.ended_by = origins.sent_package AND copies.copy_row = origins.sent_row
),
sent AS (
    SELECT origins.* FROM origins
    ANTI JOIN copies ON copies.ended_by = origins.sent_package AND copies.copy_row = origins.sent_row
),
ranked AS (
    SELECT package, row,
        first_value(package) OVER best_first AS winner,
        row_number() OVER best_first AS place
    FROM candidates
    JOIN sent USING (was_package, was_row)
    WINDOW best_first AS (
        PARTITION BY @{identity} ORDER BY issued DESC, sent_package DESC, sent_row DESC
    )
)
SELECT package, row, winner AS ended_by FROM ranked WHERE place > 1

-- purpose: the table `superseded` as it is with the given packages withdrawn
-- grain: one row a reading that does not count
-- Among rows that may count, the one issued (else received) last counts; then the higher package,
-- as they were sent: what was written again at another place, or is still to be, counts and is
-- withdrawn as the row it stands for.
CREATE OR REPLACE TABLE superseded_anew AS
WITH replaced AS (
    SELECT superseded.* FROM superseded SEMI JOIN touched USING (package, row)
    WHERE why = 're-placed'
),
withdrawn AS (
    SELECT package, row FROM touched WHERE sent_package IN (SELECT package FROM retracted)
),
ranked AS (
    SELECT package, row,
        first_value(package) OVER best_first AS winner,
        row_number() OVER best_first AS place
    FROM touched
    ANTI JOIN replaced USING (package, row)
    ANTI JOIN withdrawn USING (package, row)
    WINDOW best_first AS (
        PARTITION BY identity_no ORDER BY issued DESC, sent_package DESC, sent_row DESC
    )
)
SELECT superseded.* FROM superseded ANTI JOIN touched USING (package, row)
UNION ALL
SELECT * FROM replaced
UNION ALL
SELECT package, row, package, 'retracted', $recorded_at::TIMESTAMPTZ
FROM withdrawn
ANTI JOIN replaced USING (package, row)
UNION ALL
SELECT package, row, winner, 'revision', $recorded_at::TIMESTAMPTZ FROM ranked WHERE place > 1

-- rows_to_settle: the rows of one file that are in quarantine or put aside, and the cells of others that were not read,
-- in the order of the file; `left_out` are the marks of those that the owner has settled. record_id is the sale that a row
-- records, of the cells that were not read.
-- grain: mark
-- reads: quarantine, reversals, unread_cells, staged_rows, source_rows, record_sources
-- columns: mark VARCHAR, kind VARCHAR, sheet VARCHAR, row_number BIGINT, field VARCHAR, value VARCHAR, reason VARCHAR, cells VARCHAR, record_id VARCHAR
WITH aside AS (
    SELECT
        CASE WHEN is_put_aside(field) THEN 'put aside' ELSE 'quarantined' END AS kind,
        quarantine.sheet,
        quarantine.row_number,
        field,
        value,
        undone_reason(reason, field, record_key) AS reason,
        cells,
        CAST(NULL AS VARCHAR) AS record_id
    FROM quarantine
    LEFT JOIN reversals
        ON
            quarantine.file_sha256 = reversals.file_sha256
            AND quarantine.sheet = reversals.sheet
            AND quarantine.row_number = reversals.row_number
    WHERE quarantine.file_sha256 = $file_sha256
),
unread AS (
    SELECT
        'not read' AS kind,
        sheet,
        row_number,
        field,
        any_value(value) AS value,
        any_value(reason) AS reason
    FROM unread_cells
    WHERE file_sha256 = $file_sha256
    GROUP BY sheet, row_number, field
),
unread_rows AS (
    SELECT
        unread.kind,
        unread.sheet,
        unread.row_number,
        unread.field,
        any_value(unread.value) AS value,
        any_value(unread.reason) AS reason,
        any_value(source_rows.cells) AS cells,
        any_value(record_sources.record_id) AS record_id
    FROM unread
    LEFT JOIN staged_rows
        ON
            staged_rows.file_sha256 = $file_sha256
            AND unread.sheet = staged_rows.sheet
            AND unread.row_number = staged_rows.row_number
    LEFT JOIN source_rows ON staged_rows.row_id = source_rows.row_id
    LEFT JOIN record_sources
        ON
            record_sources.file_sha256 = $file_sha256
            AND unread.sheet = record_sources.sheet
            AND unread.row_number = record_sources.row_number
    GROUP BY unread.kind, unread.sheet, unread.row_number, unread.field
),
stated AS (
    FROM aside
    UNION ALL BY NAME
    FROM unread_rows
)
SELECT
    concat_ws(' ', kind, row_number, field, sheet) AS mark,
    kind,
    sheet,
    row_number,
    field,
    value,
    reason,
    cells,
    record_id
FROM stated
WHERE NOT list_contains(CAST($left_out AS VARCHAR[]), concat_ws(' ', kind, row_number, field, sheet))
ORDER BY kind DESC, sheet, row_number, field
LIMIT $most

-- decision_list: every decision, with the records that it is about now (null where none of its rows is left), and where
-- the first row stands that it is about, and which pair of that row.
-- grain: decision_id
-- reads: rulings, keyed_rows, settled_rows, source_files
-- columns: decision_id VARCHAR, ruling_number BIGINT, kind VARCHAR, row_key VARCHAR, other_key VARCHAR, record_id VARCHAR, other_id VARCHAR, field VARCHAR, value VARCHAR, note VARCHAR, decided_at TIMESTAMP, file_name VARCHAR, sheet VARCHAR, row_number BIGINT, pair_number INTEGER, other_file VARCHAR, other_sheet VARCHAR, other_row BIGINT, other_pair INTEGER
WITH decided AS (
    SELECT record_id AS row_key FROM rulings WHERE length(record_id) = 16
    UNION
    SELECT other_id FROM rulings WHERE length(other_id) = 16
),
keyed AS (
    SELECT
        keyed_rows.row_id,
        format('{:016x}', keyed_rows.row_key) AS row_key,
        format('{:016x}', coalesce(settled_rows.record_key, keyed_rows.row_key)) AS record_id,
        file_name,
        sheet,
        row_number,
        pair_number
    FROM keyed_rows
    LEFT JOIN settled_rows ON keyed_rows.row_id = settled_rows.row_id
    INNER JOIN source_files ON keyed_rows.file_sha256 = source_files.file_sha256
    WHERE keyed_rows.row_key IN (SELECT CAST('0x' || row_key AS UBIGINT) FROM decided)
),
first_rows AS (
    SELECT
        row_key,
        arg_min(record_id, row_id) AS record_id,
        arg_min((file_name, sheet, row_number, pair_number), row_id) AS place
    FROM keyed
    GROUP BY row_key
)
SELECT
    ruling_id AS decision_id,
    ruling_number,
    kind,
    rulings.record_id AS row_key,
    rulings.other_id AS other_key,
    CASE WHEN field = 'file' AND kind = 'remove' THEN files.file_sha256 ELSE one.record_id END AS record_id,
    other.record_id AS other_id,
    field,
    value,
    note,
    ruled_at AS decided_at,
    coalesce(files.file_name, one.place[1]) AS file_name,
    one.place[2] AS sheet,
    one.place[3] AS row_number,
    one.place[4] AS pair_number,
    other.place[1] AS other_file,
    other.place[2] AS other_sheet,
    other.place[3] AS other_row,
    other.place[4] AS other_pair
FROM rulings
LEFT JOIN first_rows AS one ON rulings.record_id = one.row_key
LEFT JOIN first_rows AS other ON rulings.other_id = other.row_key
LEFT JOIN source_files AS files ON rulings.record_id = files.file_sha256
ORDER BY ruling_number, rulings.record_id, field

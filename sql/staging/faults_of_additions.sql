-- faults_of_additions: why a sale that was added by hand is none, or what of it could not be read.
-- grain: field, reason
-- reads: quarantine, unread_cells
-- binds: row_number
-- columns: field VARCHAR, value VARCHAR, reason VARCHAR
SELECT field, value, reason
FROM quarantine
WHERE file_sha256 = 'by hand' AND row_number = $row_number
UNION ALL
SELECT field, value, reason
FROM unread_cells
WHERE file_sha256 = 'by hand' AND row_number = $row_number

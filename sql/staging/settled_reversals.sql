-- settled_reversals: keep the sale that each reversal undoes, of a line of several pairs one of them.
-- grain: file_sha256, sheet, row_number
-- reads: matched_reversals
-- writes: reversals
UPDATE reversals
SET record_key = (
    SELECT list_min(matched_reversals.record_keys)
    FROM matched_reversals
    WHERE
        matched_reversals.file_sha256 = reversals.file_sha256
        AND matched_reversals.sheet = reversals.sheet
        AND matched_reversals.row_number = reversals.row_number
)

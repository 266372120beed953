-- keep_decisions: keep decisions of the owner; those of one step are made together and share a number.
-- grain: ruling_id
-- reads: incoming (kind, record_id, other_id, field, value, note, ruled_at, step: from 0)
-- writes: rulings
INSERT INTO rulings BY NAME
WITH numbered AS (
    SELECT
        kind,
        record_id,
        other_id,
        field,
        value,
        note,
        ruled_at,
        step + 1 + (SELECT coalesce(max(ruling_number), 0) FROM rulings) AS ruling_number
    FROM incoming
)
SELECT
    left(sha256(concat_ws(chr(31), kind, record_id, coalesce(field, ''), coalesce(value, ''), ruling_number)), 16)
        AS ruling_id,
    *
FROM numbered

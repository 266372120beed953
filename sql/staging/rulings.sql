-- rulings: keep a ruling of the owner; the same ruling twice is one.
-- grain: ruling_id
-- writes: rulings
INSERT INTO rulings BY NAME
SELECT
    $ruling_id AS ruling_id,
    $kind AS kind,
    $record_id AS record_id,
    $other_id AS other_id,
    $field AS field,
    $value AS value,
    $note AS note,
    $ruled_at AS ruled_at,
    (SELECT coalesce(max(ruling_number), 0) + 1 FROM rulings) AS ruling_number
WHERE $ruling_id NOT IN (SELECT ruling_id FROM rulings)

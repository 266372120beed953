-- forget_ruling: take a ruling back.
-- writes: rulings
DELETE FROM rulings
WHERE ruling_id = $ruling_id

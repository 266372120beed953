-- forget_decisions: take decisions back.
-- reads: incoming (ruling_id)
-- writes: rulings
DELETE FROM rulings
WHERE ruling_id IN (SELECT ruling_id FROM incoming)

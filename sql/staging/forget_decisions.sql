-- forget_decisions: take decisions back.
-- reads: incoming (decision_id)
-- writes: rulings
DELETE FROM rulings
WHERE ruling_id IN (SELECT decision_id FROM incoming)

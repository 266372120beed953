-- note_ruling: put the owner's note on a ruling.
-- writes: rulings
UPDATE rulings SET note = $note
WHERE ruling_id = $ruling_id

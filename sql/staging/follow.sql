-- follow: let decisions follow the rows that they are about to their new keys.
-- reads: incoming (old_key, new_key)
-- writes: rulings
UPDATE rulings SET
    record_id = coalesce((SELECT new_key FROM incoming WHERE old_key = rulings.record_id), record_id),
    other_id = coalesce((SELECT new_key FROM incoming WHERE old_key = rulings.other_id), other_id)
WHERE record_id IN (SELECT old_key FROM incoming) OR other_id IN (SELECT old_key FROM incoming)

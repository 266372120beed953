-- merge_pairs: give the pairs that were ruled to be one the same key.
-- reads: incoming (node, label: the least node of those that are one pair)
-- writes: pair_keys
UPDATE pair_keys
SET pair_key = format('{:016x}', incoming.label)
FROM incoming
WHERE md5_number_lower(coalesce(pair_key, record_id)) = incoming.node

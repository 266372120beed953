-- keep_values: keep what was said of pairs; the same said again on the same day is kept once.
-- grain: value_id
-- reads: incoming (the columns of kept_values but value_id and kept_at)
-- writes: kept_values
-- binds: kept_at
INSERT OR IGNORE INTO kept_values BY NAME
SELECT
    left(sha256(to_json(incoming)::VARCHAR), 16) AS value_id,
    $kept_at AS kept_at,
    *
FROM incoming

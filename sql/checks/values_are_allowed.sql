-- values_are_allowed: the values of columns with a closed list that are not on it.
-- grain: field, value
-- reads: sales, incoming (field, allowed: the closed lists of pipeline/schema.py)
-- columns: field VARCHAR, value VARCHAR
WITH stated AS (
    SELECT 'status' AS field, status AS value FROM sales
    UNION ALL
    SELECT 'price_basis', price_basis FROM sales
    UNION ALL
    SELECT 'size_system', size_system FROM sales
    UNION ALL
    SELECT 'box', box FROM sales
    UNION ALL
    SELECT 'tags', tags FROM sales
    UNION ALL
    SELECT 'overlay', overlay FROM sales
    UNION ALL
    SELECT 'lasting', lasting FROM sales
    UNION ALL
    SELECT 'flags', unnest(flags) FROM sales
)
SELECT DISTINCT field, value
FROM stated
ANTI JOIN incoming ON stated.field = incoming.field AND list_contains(allowed, value)
WHERE value IS NOT NULL

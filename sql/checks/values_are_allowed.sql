-- values_are_allowed: the values of columns with a closed list that are not on it.
-- grain: field, value
-- reads: sales, incoming (field, allowed: the closed lists of pipeline/schema.py)
-- columns: field VARCHAR, value VARCHAR
WITH stated AS (
{% for column in columns if column.allowed %}
    {% set value = "unnest(" ~ column.name ~ ")" if column.is_list else column.name %}
    SELECT '{{ column.name }}' AS field, {{ value }} AS value FROM sales
    {% if not loop.last %}
    UNION ALL
    {% endif %}
{% endfor %}
)
SELECT DISTINCT field, value
FROM stated
ANTI JOIN incoming ON stated.field = incoming.field AND list_contains(allowed, value)
WHERE value IS NOT NULL

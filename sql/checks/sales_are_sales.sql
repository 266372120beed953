-- sales_are_sales: the sales that break what every sale keeps.
-- grain: record_id, fault
-- reads: sales
-- columns: record_id VARCHAR, fault VARCHAR
SELECT record_id, 'sold without a day or a price' AS fault
FROM sales
WHERE status = 'sold' AND (sold_on IS NULL OR price_paid IS NULL OR NOT price_paid > 0)
UNION ALL
SELECT record_id, 'a price paid or a day of sale for what was not sold'
FROM sales
WHERE status <> 'sold' AND (sold_on IS NOT NULL OR price_paid IS NOT NULL)
UNION ALL
SELECT record_id, 'a rate of a later day than the sale'
FROM sales
WHERE rate_on > coalesce(sold_on, closed_on, offered_on)
UNION ALL
SELECT record_id, 'an origin that does not fit the value'
FROM sales
WHERE
    FALSE
{% for column in columns if column.merge == "best known" %}
    {% set is_unknown = column.name ~ (" = 'unknown'" if column.may_be_unknown else " IS NULL") %}
    OR ({{ is_unknown }}) <> ({{ column.name }}_origin = 'unknown')
{% endfor %}

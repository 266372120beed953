{% from "macros/fitted.jinja" import is_fitted, recorded %}
-- sales_for_files: the sales that count in a fit, in the columns of a sale record that a fit reads, by year.
-- grain: record_id
-- reads: sales
-- columns: record_id VARCHAR, title VARCHAR, sold_on DATE, price_paid DECIMAL(18,4), {{ recorded() }}, year BIGINT
SELECT
    record_id,
    title,
    sold_on,
    price_paid,
{% for factor in all_factors if factor.name != "month" %}
    {{ factor.column }},
{% endfor %}
    year(sold_on) AS year
FROM sales
WHERE {{ is_fitted() }}
ORDER BY year, record_id

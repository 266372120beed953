{% from "macros/factors.jinja" import described %}
-- sales_of_fits: the sales that two fits were made of, as they took them; one that both took alike stands once.
-- grain: record_id, is_earlier, is_later
-- reads: fitted_sales
-- binds: earlier, later (the numbers of the fits)
-- columns: record_id VARCHAR, is_earlier BOOLEAN, is_later BOOLEAN, sold_on DATE, price_paid DOUBLE, log_price DOUBLE, {{ described() }}
SELECT
    record_id,
    first_fit <= $earlier AND (until_fit IS NULL OR until_fit > $earlier) AS is_earlier,
    first_fit <= $later AND (until_fit IS NULL OR until_fit > $later) AS is_later,
    sold_on,
    price_paid,
    ln(price_paid) AS log_price,
{% for factor in all_factors %}
    {{ factor.name }}{{ "" if loop.last else "," }}
{% endfor %}
FROM fitted_sales
WHERE is_earlier OR is_later
ORDER BY record_id, first_fit

-- keep_sales: keep the sales of the latest fit that no fit before it took so (see close_sales, which goes first).
-- grain: record_id, first_fit
-- reads: incoming (the columns of a fitted sale, but for first_fit and until_fit), fits
-- writes: fitted_sales
INSERT INTO fitted_sales BY NAME
SELECT
    record_id,
    (SELECT max(fit_number) FROM fits) AS first_fit,
    sold_on,
    price_paid,
{% for factor in all_factors %}
    {{ factor.name }},
{% endfor %}
FROM incoming
WHERE record_id NOT IN (SELECT record_id FROM fitted_sales WHERE until_fit IS NULL)
ORDER BY record_id

-- close_sales: note which sales the latest fit no longer took as earlier ones did.
-- reads: incoming (the columns of a fitted sale, but for first_fit and until_fit), fits
-- writes: fitted_sales
UPDATE fitted_sales
SET until_fit = (SELECT max(fit_number) FROM fits)
WHERE until_fit IS NULL
  AND NOT EXISTS (
      SELECT 1
      FROM incoming
      WHERE incoming.record_id = fitted_sales.record_id
        AND incoming.sold_on = fitted_sales.sold_on
        AND incoming.price_paid = fitted_sales.price_paid
        {% for factor in all_factors %}
        AND incoming.{{ factor.name }} IS NOT DISTINCT FROM fitted_sales.{{ factor.name }}
        {% endfor %}
  )

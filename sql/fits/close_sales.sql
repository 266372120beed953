{% from "macros/fitted.jinja" import sales_to_fit %}
-- close_sales: note which sales the latest fit no longer took as earlier ones did.
-- reads: sales, fits
-- writes: fitted_sales
WITH taken AS (
    {{ sales_to_fit() | indent(4) }}
)
UPDATE fitted_sales
SET until_fit = (SELECT max(fit_number) FROM fits)
WHERE until_fit IS NULL
  AND NOT EXISTS (
      SELECT 1
      FROM taken
      WHERE taken.record_id = fitted_sales.record_id
        AND taken.sold_on = fitted_sales.sold_on
        AND taken.price_paid = fitted_sales.price_paid
        {% for factor in all_factors %}
        AND taken.{{ factor.name }} IS NOT DISTINCT FROM fitted_sales.{{ factor.name }}
        {% endfor %}
  )

{% from "macros/fitted.jinja" import sales_to_fit %}
-- close_sales: note which sales the latest fit no longer took as earlier ones did.
-- reads: sales, fits
-- writes: fitted_sales
-- The rows are compared before the update: a condition within it takes twice the time and memory.
WITH taken AS (
    {{ sales_to_fit() | indent(4) }}
),
changed AS (
    SELECT fitted_sales.rowid
    FROM fitted_sales
    ANTI JOIN taken
        ON
            fitted_sales.record_id = taken.record_id
            AND fitted_sales.sold_on = taken.sold_on
            AND fitted_sales.price_paid = taken.price_paid
{% for factor in all_factors %}
            AND fitted_sales.{{ factor.name }} IS NOT DISTINCT FROM taken.{{ factor.name }}
{% endfor %}
    WHERE fitted_sales.until_fit IS NULL
)
UPDATE fitted_sales
SET until_fit = (SELECT max(fit_number) FROM fits)
WHERE rowid IN (FROM changed)

{% from "macros/fitted.jinja" import sales_to_fit %}
-- keep_sales: keep the sales of the latest fit that no fit before it took so (see close_sales, which goes first).
-- grain: record_id, first_fit
-- reads: sales, fits
-- writes: fitted_sales
INSERT INTO fitted_sales BY NAME
WITH taken AS (
    {{ sales_to_fit() | indent(4) }}
)
SELECT
    * EXCLUDE (log_price),
    (SELECT max(fit_number) FROM fits) AS first_fit
FROM taken
WHERE record_id NOT IN (SELECT record_id FROM fitted_sales WHERE until_fit IS NULL)

{% from "macros/factors.jinja" import factors %}
{% from "macros/fitted.jinja" import is_fitted %}
-- priced_records: the sales of files that count in a fit, as response and discrete factors; see marts/priced_sales.
-- grain: record_id.
-- reads: recorded_sales (the columns of sales that files hold, in the types of pipeline/schema.py).
-- columns: those of marts/priced_sales.
SELECT
    record_id,
    coalesce(title, '') AS title,
    sold_on,
    price_paid::DOUBLE AS price_paid,
    ln(price_paid::DOUBLE) AS log_price,
{{ factors('sold_on') }}FROM recorded_sales
WHERE {{ is_fitted() }}

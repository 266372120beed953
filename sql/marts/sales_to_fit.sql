{% from "macros/factors.jinja" import described %}
{% from "macros/fitted.jinja" import sales_to_fit %}
-- sales_to_fit: the sales that can be priced, as response and discrete factors, without texts.
-- grain: record_id
-- reads: sales
-- columns: record_id VARCHAR, sold_on DATE, price_paid DOUBLE, log_price DOUBLE, {{ described() }}
-- In no order: it is scanned many times, and would be sorted each time.
{{ sales_to_fit() }}

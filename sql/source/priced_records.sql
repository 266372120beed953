{% from "macros/fitted.jinja" import is_fitted, priced %}
-- priced_records: the sales of files that count in a fit, as response and discrete factors; see marts/priced_sales.
-- grain: record_id.
-- reads: recorded_sales (the columns of sales that files hold, in the types of pipeline/schema.py).
-- columns: those of marts/priced_sales.
{{ priced(titled=true) }}FROM recorded_sales
WHERE {{ is_fitted() }}

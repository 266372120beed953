{% from "macros/use_in_fit.jinja" import use_in_fit %}
-- record: one sale or offer, as JSON, and whether it is in the fit, or why not.
-- grain: record_id
-- reads: sale_of
-- binds: record_id
-- columns: record VARCHAR, use VARCHAR
SELECT
    CAST(to_json(sales) AS VARCHAR) AS record,
    {{ use_in_fit() }}
FROM sale_of($record_id) AS sales

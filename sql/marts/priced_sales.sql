{% from "macros/factors.jinja" import described %}
{% from "macros/fitted.jinja" import is_fitted, priced %}
-- priced_sales: the sales that can be priced, as response and discrete factors, with what a comparable shows.
-- grain: record_id
-- reads: sales
-- binds: silhouette (NULL for all), most (NULL for all: how many rows at most, the most recent first)
-- columns: record_id VARCHAR, title VARCHAR, sold_on DATE, price_paid DOUBLE, log_price DOUBLE, {{ described() }}
WITH sold AS (
    SELECT *
    FROM sales
    WHERE {{ is_fitted() }}
      AND ($silhouette IS NULL OR silhouette = $silhouette)
)

{{ priced(titled=true) }}FROM sold
ORDER BY sold_on DESC, record_id
LIMIT coalesce($most, 9223372036854775807)

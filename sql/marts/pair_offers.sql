-- pair_offers: the sales and offers of the pairs of these stock numbers, those known to be of such a pair without its
-- number too.
-- grain: number, record_id
-- reads: sales, pair_histories
-- binds: numbers (the owner's stock numbers), as_of
-- columns: number VARCHAR, record_id VARCHAR, venue VARCHAR, status VARCHAR, offered_on DATE, ended_on DATE, ask DOUBLE, currency VARCHAR, price_paid DOUBLE, is_undone BOOLEAN
WITH wanted AS (
    SELECT DISTINCT unnest(CAST($numbers AS VARCHAR[])) AS number
),
found AS (
    SELECT wanted.number, sales.record_id
    FROM wanted
    INNER JOIN sales ON wanted.number = sales.stock_ref
    UNION
    SELECT wanted.number, format('{:016x}', pair_histories.record_key)
    FROM wanted
    INNER JOIN pair_histories
        ON pair_histories.pair_key = own_pair_key(wanted.number, NULL, NULL, NULL, NULL, NULL)
)
SELECT
    found.number,
    sales.record_id,
    sales.venue,
    sales.status,
    sales.offered_on,
    coalesce(sales.sold_on, sales.closed_on) AS ended_on,
    sales.ask_native::DOUBLE AS ask,
    sales.currency,
    sales.price_paid::DOUBLE AS price_paid,
    coalesce(list_contains(sales.flags, 'sale undone'), FALSE) AS is_undone
FROM found
INNER JOIN sales ON found.record_id = sales.record_id
WHERE coalesce(sales.offered_on, sales.sold_on, sales.closed_on) <= CAST($as_of AS DATE)
ORDER BY found.number, ended_on, sales.record_id

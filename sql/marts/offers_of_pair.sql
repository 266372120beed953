-- offers_of_pair: the sales and offers of one physical pair, in the order of their days.
-- grain: record_id
-- reads: sales
-- binds: pair_key
-- columns: record_id VARCHAR, day DATE, venue VARCHAR, status VARCHAR, title VARCHAR, price_paid DECIMAL(18,4)
SELECT
    record_id,
    coalesce(sold_on, closed_on, offered_on) AS day,
    venue,
    status,
    title,
    price_paid
FROM sales
WHERE pair_key = $pair_key
ORDER BY day, record_id

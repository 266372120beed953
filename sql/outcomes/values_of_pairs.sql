-- values_of_pairs: the values that were kept of the pairs of these stock numbers.
-- grain: value_id
-- reads: kept_values
-- binds: numbers (the owner's stock numbers), as_of
-- columns: number VARCHAR, said_on DATE, question VARCHAR, venue VARCHAR, currency VARCHAR, median DOUBLE, low DOUBLE, high DOUBLE, price_kind VARCHAR, price DOUBLE, price_currency VARCHAR
SELECT
    stock_ref AS number,
    said_on,
    question,
    venue,
    currency,
    median,
    low,
    high,
    price_kind,
    price,
    price_currency
FROM kept_values
WHERE
    stock_ref IN (SELECT unnest(CAST($numbers AS VARCHAR[])))
    AND said_on <= CAST($as_of AS DATE)
ORDER BY stock_ref, said_on, question, venue, price_kind, value_id

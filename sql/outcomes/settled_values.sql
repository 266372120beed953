-- settled_values: each kept value with the first later end of an offer of that pair, nulls where there is none yet.
-- A pair is the same by its stock number, else by venue, sale and lot number. An offer ended later where that was after
-- the day of the value and after the last sale that its fit knew.
-- grain: value_id
-- reads: kept_values, sales
-- binds: as_of
-- columns: value_id VARCHAR, question VARCHAR, said_on DATE, pair VARCHAR, stock_ref VARCHAR, lot_ref VARCHAR, venue VARCHAR, currency VARCHAR, median DOUBLE, low DOUBLE, high DOUBLE, price_kind VARCHAR, price DOUBLE, price_currency VARCHAR, record_id VARCHAR, status VARCHAR, ended_on DATE, sold_at VARCHAR, price_paid DOUBLE, price_native DOUBLE, price_basis VARCHAR, native_currency VARCHAR, rate DOUBLE, treatments_at_sale VARCHAR[], expected_net DOUBLE, treatments VARCHAR[], value_before DOUBLE, work_cost DOUBLE, expected_gain DOUBLE
WITH ends AS (
    SELECT
        *,
        coalesce(sold_on, closed_on) AS ended_on
    FROM sales
    WHERE status IN ('sold', 'unsold')
      AND NOT held_out
      AND coalesce(sold_on, closed_on) <= CAST($as_of AS DATE)
),

by_number AS (
    SELECT
        value_id,
        ends.record_id
    FROM kept_values AS kept
    INNER JOIN ends USING (stock_ref)
    WHERE ends.ended_on > greatest(kept.said_on, kept.known_until)
      AND (kept.question <> 'consignment' OR kept.venue = ends.venue)
),

by_lot AS (
    SELECT
        value_id,
        ends.record_id
    FROM kept_values AS kept
    INNER JOIN ends
        ON kept.venue = ends.venue AND kept.lot_ref = ends.lot_ref AND kept.sale_ref IS NOT DISTINCT FROM ends.sale_ref
    WHERE kept.question = 'lot'
      AND ends.ended_on > kept.known_until
      AND ends.ended_on >= kept.said_on
),

found AS (
    SELECT * FROM by_number
    UNION
    SELECT * FROM by_lot
)

SELECT
    kept.value_id,
    kept.question,
    kept.said_on,
    kept.pair,
    kept.stock_ref,
    kept.lot_ref,
    kept.venue,
    kept.currency,
    kept.median,
    kept.low,
    kept.high,
    kept.price_kind,
    kept.price,
    kept.price_currency,
    ends.record_id,
    ends.status,
    ends.ended_on,
    ends.venue AS sold_at,
    ends.price_paid::DOUBLE AS price_paid,
    ends.price_native::DOUBLE AS price_native,
    ends.price_basis,
    ends.currency AS native_currency,
    ends.rate,
    ends.treatments AS treatments_at_sale,
    kept.expected_net,
    kept.treatments,
    kept.value_before,
    kept.work_cost,
    kept.expected_gain
FROM kept_values AS kept
LEFT JOIN found USING (value_id)
LEFT JOIN ends USING (record_id)
QUALIFY row_number() OVER (
    PARTITION BY kept.value_id
    ORDER BY ends.status = 'sold' DESC NULLS LAST, ends.ended_on, ends.record_id
) = 1
ORDER BY kept.said_on, kept.value_id

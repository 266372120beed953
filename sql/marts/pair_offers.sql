{% from "macros/offers.jinja" import every_offer %}
-- pair_offers: the sales and offers of the pairs of these stock numbers, those known to be of such a pair without its
-- number too.
-- grain: number, record_id
-- reads: current_rows, settled_rows, settled_sales, pair_histories
-- binds: numbers (the owner's stock numbers), as_of
-- columns: number VARCHAR, record_id VARCHAR, venue VARCHAR, status VARCHAR, offered_on DATE, ended_on DATE, ask DOUBLE, currency VARCHAR, price_paid DOUBLE, is_undone BOOLEAN
-- Offers are found as numbers, and their days compared, before what is said of them is read: with a condition of its own
-- the last join would read it of every offer.
WITH offers AS NOT MATERIALIZED (
{{ every_offer() }}
),
wanted AS (
    SELECT DISTINCT unnest(CAST($numbers AS VARCHAR[])) AS number
),
known AS MATERIALIZED (
    SELECT wanted.number, pair_histories.record_key
    FROM pair_histories
    INNER JOIN wanted
        ON pair_histories.pair_key = own_pair_key(wanted.number, NULL, NULL, NULL, NULL, NULL)
),
numbered AS MATERIALIZED (
    SELECT
        wanted.number,
        offers.record_key,
        offers.row_id,
        coalesce(offers.offered_on, offers.sold_on, offers.closed_on) AS first_day
    FROM offers
    INNER JOIN wanted ON offers.stock_ref = wanted.number
),
linked AS MATERIALIZED (
    SELECT
        known.number,
        offers.record_key,
        offers.row_id,
        coalesce(offers.offered_on, offers.sold_on, offers.closed_on) AS first_day
    FROM offers
    INNER JOIN known ON offers.record_key = known.record_key
),
either AS (
    FROM numbered
    UNION
    FROM linked
),
found AS MATERIALIZED (
    SELECT *
    FROM either
    WHERE first_day <= CAST($as_of AS DATE)
)
SELECT
    found.number,
    format('{:016x}', offers.record_key) AS record_id,
    offers.venue,
    offers.status,
    offers.offered_on,
    coalesce(offers.sold_on, offers.closed_on) AS ended_on,
    offers.ask_native::DOUBLE AS ask,
    offers.currency,
    offers.price_paid::DOUBLE AS price_paid,
    coalesce(list_contains(offers.flags, 'sale undone'), FALSE) AS is_undone
FROM offers
INNER JOIN found ON offers.record_key = found.record_key AND offers.row_id = found.row_id
ORDER BY found.number, ended_on, record_id

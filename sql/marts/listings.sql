{% from "macros/factors.jinja" import described, factors %}
-- listings: the fixed-price offers up to a day, sold by then or not, with their ask, how long each stood, and their
-- discrete factors.
-- An offer that was accepted and undone later says nothing of how long its ask stood, and is left out.
-- grain: record_id
-- reads: sales
-- binds: venues (names of the venues of fixed prices), as_of (an offer that ended later was still open on this day)
-- columns: record_id VARCHAR, sold BOOLEAN, days INTEGER, ask_price DOUBLE, price_paid DOUBLE, {{ described() }}
WITH offered AS (
    SELECT
        *,
        CASE
            WHEN status = 'open' OR closed_on > CAST($as_of AS DATE) THEN CAST($as_of AS DATE)
            ELSE closed_on
        END AS ended_on,
        status = 'sold' AND closed_on <= CAST($as_of AS DATE) AS sold
    FROM sales
    WHERE list_contains(CAST($venues AS VARCHAR[]), venue)
      AND ask_price > 0
      AND offered_on IS NOT NULL
      AND silhouette IS NOT NULL
      AND NOT held_out
      AND NOT list_contains(flags, 'sale undone')
)

SELECT
    record_id,
    sold,
    greatest(date_diff('day', offered_on, ended_on), 1)::INTEGER AS days,
    ask_price::DOUBLE AS ask_price,
    CASE WHEN sold THEN price_paid::DOUBLE END AS price_paid,
{{ factors('ended_on') }}FROM offered
WHERE ended_on IS NOT NULL
  AND offered_on <= ended_on
ORDER BY record_id

-- market_activity: what each venue was asked to sell and what it sold, by quarter.
-- grain: quarter, venue
-- reads: sales
-- binds: as_of (offers that ended by that day)
-- columns: quarter DATE, venue VARCHAR, sold BIGINT, unsold BIGINT, withdrawn BIGINT, timed BIGINT, days_to_sale DOUBLE, turnover DOUBLE
-- An offer belongs to the quarter in which it ended; open ones have not. `timed` counts the sold ones whose
-- first day is known, `days_to_sale` is the median of their days from first offer to sale.
WITH ended AS (
    SELECT
        venue,
        status,
        price_paid,
        offered_on,
        coalesce(sold_on, closed_on) AS ended_on
    FROM sales
    WHERE status IN ('sold', 'unsold', 'withdrawn')
)

SELECT
    date_trunc('quarter', ended_on)::DATE AS quarter,
    venue,
    count(*) FILTER (WHERE status = 'sold') AS sold,
    count(*) FILTER (WHERE status = 'unsold') AS unsold,
    count(*) FILTER (WHERE status = 'withdrawn') AS withdrawn,
    count(offered_on) FILTER (WHERE status = 'sold') AS timed,
    median(date_diff('day', offered_on, ended_on)) FILTER (WHERE status = 'sold') AS days_to_sale,
    coalesce(sum(price_paid) FILTER (WHERE status = 'sold'), 0)::DOUBLE AS turnover
FROM ended
WHERE ended_on <= $as_of
GROUP BY ALL
ORDER BY quarter, venue

{% from "macros/offers.jinja" import every_offer %}
-- offers_of_pair: the sales and offers of the physical pair of a record, in the order of their days.
-- grain: record_id
-- reads: current_rows, settled_rows, settled_sales, pair_histories
-- binds: record_id, pair_key (of that record; none is found where it is NULL)
-- columns: record_id VARCHAR, day DATE, venue VARCHAR, status VARCHAR, title VARCHAR, price_paid DECIMAL(18,4)
-- A pair key that is no history's is what offers tell by themselves (the macro own_pair_key). Such offers are found by
-- the very words of one that has it, since writing the keys of a million offers takes longer than all else.
WITH offers AS NOT MATERIALIZED (
{{ every_offer() }}
),
known AS MATERIALIZED (
    SELECT record_key
    FROM pair_histories
    WHERE pair_key = $pair_key
),
seen AS MATERIALIZED (
    SELECT DISTINCT
        stock_ref,
        stamp_text,
        notes,
        silhouette,
        colourway,
        foot_mm
    FROM offers
    WHERE record_key IN (
        FROM known
        UNION ALL
        SELECT CAST('0x' || $record_id AS UBIGINT)
    )
),
telling AS MATERIALIZED (
    SELECT *
    FROM seen
    WHERE own_pair_key(stock_ref, stamp_text, notes, silhouette, colourway, foot_mm) = $pair_key
),
linked AS MATERIALIZED (
    SELECT record_key, row_id
    FROM offers
    WHERE record_key IN (FROM known)
),
numbered AS MATERIALIZED (
    SELECT record_key, row_id
    FROM offers
    WHERE stock_ref IN (SELECT stock_ref FROM telling)
),
stamped AS MATERIALIZED (
    SELECT offers.record_key, offers.row_id
    FROM offers
    INNER JOIN telling
        ON
            offers.stamp_text = telling.stamp_text
            AND lower(offers.notes) = lower(telling.notes)
            AND offers.silhouette = telling.silhouette
            AND offers.colourway = telling.colourway
            AND offers.foot_mm = telling.foot_mm
    WHERE offers.stock_ref IS NULL AND telling.stock_ref IS NULL
),
named AS (
    FROM numbered
    UNION ALL
    FROM stamped
),
found AS MATERIALIZED (
    FROM linked
    UNION
    SELECT named.*
    FROM named
    ANTI JOIN pair_histories ON named.record_key = pair_histories.record_key
)
SELECT
    format('{:016x}', offers.record_key) AS record_id,
    coalesce(sold_on, closed_on, offered_on) AS day,
    venue,
    status,
    title,
    price_paid
FROM offers
INNER JOIN found ON offers.record_key = found.record_key AND offers.row_id = found.row_id
ORDER BY day, record_id

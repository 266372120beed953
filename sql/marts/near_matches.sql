{% from "macros/offers.jinja" import every_offer %}
-- near_matches: pairs of sales that may be one and the same, for the owner to rule on.
-- grain: left_id, right_id
-- reads: current_rows, settled_rows, settled_sales, rulings
-- binds: start (how many to leave out before those returned, NULL for none), first (how many at most, NULL for all)
-- columns: left_id VARCHAR, right_id VARCHAR, why VARCHAR, left_title VARCHAR, right_title VARCHAR, left_venue VARCHAR, right_venue VARCHAR, left_day DATE, right_day DATE, left_price DECIMAL(18,4), right_price DECIMAL(18,4), matching BIGINT
-- Two lots that one venue itself numbers differently are never taken for one. Of two files, sales may be one whose grades
-- are half a step apart, or of which one has a size that cannot be read; they are offered, and never merged. Sales are
-- matched by their keys and few columns, days and prices first in steps, since the view `sales` also looks for the pair of each.
WITH offers AS NOT MATERIALIZED ({{ every_offer() }}),
sold AS NOT MATERIALIZED (
    SELECT
        record_key,
        silhouette,
        colourway,
        era,
        foot_mm,
        size_label,
        grade,
        price_paid,
        sold_on,
        stock_ref,
        venue,
        sale_ref,
        lot_ref
    FROM offers
    WHERE status = 'sold'
),
by_size AS MATERIALIZED (
    SELECT *, foot_mm AS size_key
    FROM sold
    WHERE foot_mm IS NOT NULL AND silhouette IS NOT NULL AND sold_on IS NOT NULL AND price_paid IS NOT NULL
    UNION ALL
    SELECT unreadable.*, sizes.foot_mm
    FROM sold AS unreadable
    CROSS JOIN (SELECT DISTINCT foot_mm FROM sold WHERE foot_mm IS NOT NULL) AS sizes
    WHERE
        unreadable.foot_mm IS NULL
        AND unreadable.size_label IS NOT NULL
        AND unreadable.silhouette IS NOT NULL
        AND unreadable.sold_on IS NOT NULL
        AND unreadable.price_paid IS NOT NULL
),
placed AS (
    SELECT
        *,
        CAST(floor(epoch(sold_on) / 86400 / 4) AS INTEGER) AS days,
        CAST(floor(ln(greatest(price_paid, 0.0001)) / 0.0203) AS INTEGER) AS prices
    FROM by_size
),
beside AS (
    SELECT * REPLACE (days + unnest([-1, 0, 1]) AS days)
    FROM placed
),
around AS (
    SELECT * REPLACE (prices + unnest([-1, 0, 1]) AS prices)
    FROM beside
),
near AS MATERIALIZED (
    SELECT
        one.record_key AS one_key,
        other.record_key AS other_key,
        abs(one.grade - other.grade) AS grades_apart,
        one.foot_mm = other.foot_mm AS is_of_one_size
    FROM around AS one
    INNER JOIN placed AS other
        ON
            one.silhouette = other.silhouette
            AND one.size_key = other.size_key
            AND one.days = other.days
            AND one.prices = other.prices
    WHERE
        one.record_key < other.record_key
        AND abs(one.sold_on - other.sold_on) <= 3
        AND abs(one.price_paid - other.price_paid) <= 0.02 * one.price_paid
        AND (one.foot_mm IS NOT NULL OR other.foot_mm IS NOT NULL)
        AND coalesce(one.colourway = other.colourway, TRUE)
        AND coalesce(one.era = other.era, TRUE)
        AND coalesce(one.stock_ref = other.stock_ref, TRUE)
        AND NOT coalesce(one.venue = other.venue AND one.lot_ref <> other.lot_ref, FALSE)
        AND NOT coalesce(one.venue = other.venue AND one.sale_ref <> other.sale_ref, FALSE)
),
like_prices AS (
    SELECT
        one_key,
        other_key,
        'sold within three days for nearly the same price, of the same silhouette and size' AS why,
        1 AS weight
    FROM near
    WHERE is_of_one_size AND coalesce(grades_apart = 0, TRUE)
),
half_alike AS MATERIALIZED (
    SELECT
        one_key,
        other_key,
        'sold within three days for nearly the same price, of the same silhouette; '
        || CASE
            WHEN is_of_one_size THEN 'their grades are half a step apart'
            ELSE 'one size cannot be read'
        END AS why,
        4 AS weight
    FROM near
    WHERE
        (is_of_one_size AND grades_apart = 0.5)
        OR (is_of_one_size IS NULL AND coalesce(grades_apart <= 0.5, TRUE))
),
sources AS MATERIALIZED (
    SELECT
        coalesce(settled_rows.record_key, current_rows.node) AS record_key,
        file_sha256
    FROM current_rows
    LEFT JOIN settled_rows ON current_rows.row_id = settled_rows.row_id
    WHERE
        coalesce(settled_rows.record_key, current_rows.node) IN (
            SELECT one_key FROM half_alike UNION SELECT other_key FROM half_alike
        )
),
in_one_file AS (
    SELECT DISTINCT one_key, other_key
    FROM half_alike
    INNER JOIN sources AS here ON one_key = here.record_key
    INNER JOIN sources AS there ON other_key = there.record_key AND here.file_sha256 = there.file_sha256
),
like_in_two_files AS (
    SELECT half_alike.*
    FROM half_alike
    ANTI JOIN in_one_file ON half_alike.one_key = in_one_file.one_key AND half_alike.other_key = in_one_file.other_key
),
like_stock AS (
    SELECT
        one.record_key AS one_key,
        other.record_key AS other_key,
        'one stock number, sold twice within a week' AS why,
        2 AS weight
    FROM sold AS one
    INNER JOIN sold AS other
        ON one.stock_ref = other.stock_ref AND one.record_key < other.record_key
    WHERE abs(one.sold_on - other.sold_on) <= 7
),
like_lots AS (
    SELECT
        one.record_key AS one_key,
        other.record_key AS other_key,
        'one lot number and title at one venue, with another day, sale or price' AS why,
        3 AS weight
    FROM offers AS one
    INNER JOIN offers AS other
        ON
            one.venue = other.venue
            AND one.lot_ref = other.lot_ref
            AND one.title = other.title
            AND one.record_key < other.record_key
    WHERE
        abs(one.closed_on - other.closed_on) <= 14
        AND NOT coalesce(one.sale_ref <> other.sale_ref, FALSE)
),
found AS (
    SELECT one_key, other_key, arg_min(why, weight) AS why
    FROM (
        FROM like_prices
        UNION ALL
        FROM like_stock
        UNION ALL
        FROM like_lots
        UNION ALL
        FROM like_in_two_files
    )
    GROUP BY one_key, other_key
),
said AS MATERIALIZED (
    SELECT
        CAST('0x' || record_id AS UBIGINT) AS one_row,
        CAST('0x' || other_id AS UBIGINT) AS other_row
    FROM rulings
    WHERE kind IN ('same sale', 'different sales', 'same pair')
),
now AS MATERIALIZED (
    SELECT DISTINCT
        coalesce(settled_rows.row_key, current_rows.node) AS row_key,
        coalesce(settled_rows.record_key, current_rows.node) AS record_key
    FROM current_rows
    LEFT JOIN settled_rows ON current_rows.row_id = settled_rows.row_id
    WHERE
        coalesce(settled_rows.row_key, current_rows.node) IN (
            SELECT one_row FROM said UNION SELECT other_row FROM said
        )
),
ruled AS (
    SELECT
        least(one.record_key, other.record_key) AS one_key,
        greatest(one.record_key, other.record_key) AS other_key
    FROM said
    INNER JOIN now AS one ON said.one_row = one.row_key
    INNER JOIN now AS other ON said.other_row = other.row_key
),
page AS MATERIALIZED (
    SELECT
        found.*,
        coalesce(sold_on, closed_on) AS left_day,
        count(*) OVER () AS matching
    FROM found
    ANTI JOIN ruled ON found.one_key = ruled.one_key AND found.other_key = ruled.other_key
    INNER JOIN offers ON found.one_key = offers.record_key
    ORDER BY left_day, found.one_key, found.other_key
    LIMIT coalesce($first, 9223372036854775807)
    OFFSET coalesce($start, 0)
),
shown AS MATERIALIZED (
    SELECT record_key, title, venue, coalesce(sold_on, closed_on) AS day, price_paid
    FROM offers
    WHERE record_key IN (SELECT one_key FROM page UNION SELECT other_key FROM page)
)
SELECT
    format('{:016x}', one_key) AS left_id,
    format('{:016x}', other_key) AS right_id,
    why,
    one.title AS left_title,
    other.title AS right_title,
    one.venue AS left_venue,
    other.venue AS right_venue,
    left_day,
    other.day AS right_day,
    one.price_paid AS left_price,
    other.price_paid AS right_price,
    matching
FROM page
INNER JOIN shown AS one ON one_key = one.record_key
INNER JOIN shown AS other ON other_key = other.record_key
ORDER BY left_day, left_id, right_id

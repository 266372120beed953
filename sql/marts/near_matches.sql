-- near_matches: pairs of sales that may be one and the same, for the owner to rule on.
-- grain: left_id, right_id
-- reads: sales, rulings, record_sources
-- columns: left_id VARCHAR, right_id VARCHAR, why VARCHAR, left_title VARCHAR, right_title VARCHAR, left_venue VARCHAR, right_venue VARCHAR, left_day DATE, right_day DATE, left_price DECIMAL(18,4), right_price DECIMAL(18,4)
-- Two lots that one venue itself numbers differently are never taken for one. Of two files, sales may be one whose grades
-- are half a step apart, or of which one has a size that cannot be read; they are offered, and never merged.
WITH sold AS (
    SELECT *
    FROM sales
    WHERE status = 'sold'
),
by_size AS (
    SELECT *, foot_mm AS size_key
    FROM sold
    WHERE foot_mm IS NOT NULL
    UNION ALL
    SELECT unreadable.*, sizes.foot_mm
    FROM sold AS unreadable
    CROSS JOIN (SELECT DISTINCT foot_mm FROM sold WHERE foot_mm IS NOT NULL) AS sizes
    WHERE unreadable.foot_mm IS NULL AND unreadable.size_label IS NOT NULL
),
near AS (
    SELECT
        one.record_id AS one_id,
        other.record_id AS other_id,
        abs(one.grade - other.grade) AS grades_apart,
        one.foot_mm = other.foot_mm AS is_of_one_size
    FROM by_size AS one
    CROSS JOIN (SELECT unnest(range(-3, 4)) AS days) AS apart
    INNER JOIN by_size AS other
        ON
            one.silhouette = other.silhouette
            AND one.size_key = other.size_key
            AND one.sold_on + CAST(apart.days AS INTEGER) = other.sold_on
    WHERE
        one.record_id < other.record_id
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
        one_id,
        other_id,
        'sold within three days for nearly the same price, of the same silhouette and size' AS why,
        1 AS weight
    FROM near
    WHERE is_of_one_size AND coalesce(grades_apart = 0, TRUE)
),
half_alike AS (
    SELECT
        one_id,
        other_id,
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
in_one_file AS (
    SELECT DISTINCT one_id, other_id
    FROM half_alike
    INNER JOIN record_sources AS here ON one_id = here.record_id
    INNER JOIN record_sources AS there ON other_id = there.record_id AND here.file_sha256 = there.file_sha256
),
like_in_two_files AS (
    SELECT half_alike.*
    FROM half_alike
    ANTI JOIN in_one_file ON half_alike.one_id = in_one_file.one_id AND half_alike.other_id = in_one_file.other_id
),
like_stock AS (
    SELECT
        one.record_id AS one_id,
        other.record_id AS other_id,
        'one stock number, sold twice within a week' AS why,
        2 AS weight
    FROM sold AS one
    INNER JOIN sold AS other
        ON one.stock_ref = other.stock_ref AND one.record_id < other.record_id
    WHERE abs(one.sold_on - other.sold_on) <= 7
),
like_lots AS (
    SELECT
        one.record_id AS one_id,
        other.record_id AS other_id,
        'one lot number and title at one venue, with another day, sale or price' AS why,
        3 AS weight
    FROM sales AS one
    INNER JOIN sales AS other
        ON
            one.venue = other.venue
            AND one.lot_ref = other.lot_ref
            AND one.title = other.title
            AND one.record_id < other.record_id
    WHERE
        abs(one.closed_on - other.closed_on) <= 14
        AND NOT coalesce(one.sale_ref <> other.sale_ref, FALSE)
),
found AS (
    SELECT one_id, other_id, arg_min(why, weight) AS why
    FROM (
        FROM like_prices
        UNION ALL
        FROM like_stock
        UNION ALL
        FROM like_lots
        UNION ALL
        FROM like_in_two_files
    )
    GROUP BY one_id, other_id
),
ruled AS (
    SELECT
        least(one.record_id, other.record_id) AS one_id,
        greatest(one.record_id, other.record_id) AS other_id
    FROM rulings
    INNER JOIN record_sources AS one ON rulings.record_id = one.row_key
    INNER JOIN record_sources AS other ON rulings.other_id = other.row_key
    WHERE rulings.kind IN ('same sale', 'different sales')
)
SELECT
    found.one_id AS left_id,
    found.other_id AS right_id,
    found.why,
    one.title AS left_title,
    other.title AS right_title,
    one.venue AS left_venue,
    other.venue AS right_venue,
    coalesce(one.sold_on, one.closed_on) AS left_day,
    coalesce(other.sold_on, other.closed_on) AS right_day,
    one.price_paid AS left_price,
    other.price_paid AS right_price
FROM found
ANTI JOIN ruled ON found.one_id = ruled.one_id AND found.other_id = ruled.other_id
INNER JOIN sales AS one ON found.one_id = one.record_id
INNER JOIN sales AS other ON found.other_id = other.record_id
ORDER BY left_day, left_id, right_id

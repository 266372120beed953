-- own_histories: the offers that are one pair offered again, as far as the exports show.
-- grain: record_key
-- reads: current_rows, settled_rows, settled_sales
-- columns: record_key UBIGINT, pair_key VARCHAR
-- An offer that did not end in a sale and the next one of the same title, size and stamp at the same venue, within
-- 400 days and not at the same time, are one pair offered again (title and size being known). A history takes the key
-- that one of its offers has of its own. Offers that are alone are left out before the histories are numbered: an offer
-- `comes_again` where the next one `returns`.
CREATE OR REPLACE TEMP TABLE own_histories AS
WITH likenesses AS (
    SELECT hash(venue, title, size_label, stamp_text) AS likeness
    FROM current_rows
    WHERE title IS NOT NULL AND size_label IS NOT NULL
    GROUP BY likeness
    HAVING count(*) > 1 AND bool_or(status IN ('unsold', 'withdrawn'))
),
offers AS (
    SELECT
        node AS record_key,
        hash(venue, title, size_label, stamp_text) AS likeness,
        status,
        closed_on,
        offered_on,
        own_pair_key(stock_ref, stamp_text, notes, silhouette, colourway, foot_mm) AS own_key
    FROM current_rows
    WHERE
        hash(venue, title, size_label, stamp_text) IN (FROM likenesses)
        AND NOT EXISTS (SELECT 1 FROM settled_rows WHERE settled_rows.row_id = current_rows.row_id)
    UNION ALL
    SELECT
        record_key,
        hash(venue, title, size_label, stamp_text),
        status,
        closed_on,
        offered_on,
        own_pair_key(stock_ref, stamp_text, notes, silhouette, colourway, foot_mm)
    FROM settled_sales
    WHERE hash(venue, title, size_label, stamp_text) IN (FROM likenesses)
),
dated AS (
    SELECT
        record_key,
        likeness,
        status IN ('unsold', 'withdrawn') AS may_return,
        coalesce(closed_on, offered_on) AS day,
        coalesce(offered_on, closed_on) AS first_day,
        own_key
    FROM offers
    WHERE coalesce(closed_on, offered_on) IS NOT NULL
),
in_turn AS (
    SELECT
        *,
        coalesce(
            lag(may_return) OVER turn
            AND first_day > lag(day) OVER turn
            AND day - lag(day) OVER turn <= 400,
            FALSE
        ) AS returns,
        may_return AND coalesce(
            lead(first_day) OVER turn > day AND lead(day) OVER turn - day <= 400,
            FALSE
        ) AS comes_again
    FROM dated
    WINDOW turn AS (PARTITION BY likeness ORDER BY day, first_day, record_key)
),
numbered AS (
    SELECT
        *,
        count(*) FILTER (NOT returns) OVER (
            PARTITION BY likeness
            ORDER BY day, first_day, record_key
            ROWS UNBOUNDED PRECEDING
        ) AS history
    FROM in_turn
    WHERE returns OR comes_again
),
histories AS (
    SELECT
        list(record_key) AS record_keys,
        min(record_key) AS least_record,
        min(own_key) AS least_key,
        max(own_key) AS greatest_key
    FROM numbered
    GROUP BY likeness, history
)
SELECT
    unnest(record_keys) AS record_key,
    coalesce(least_key, left(md5('offers' || chr(31) || least_record), 16)) AS pair_key
FROM histories
WHERE least_key IS NULL OR least_key = greatest_key

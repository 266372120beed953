-- pair_keys: the key of the physical pair behind each offer of which it can be known.
-- grain: record_id
-- reads: staged_rows, row_records, merged_sales
-- columns: record_id VARCHAR, pair_key VARCHAR
-- It is the owner's stock number. Failing that, what stamp, size and notes say together. Failing that, an
-- offer that did not end in a sale and the next one of the same title, size and stamp at the same venue,
-- within 400 days and not at the same time, are one pair offered again (title and size being known). A history takes a stock number
-- that one of its offers has.
CREATE OR REPLACE TEMP TABLE pair_keys AS
WITH offers AS (
    SELECT
        row_records.record_id,
        venue,
        title,
        status,
        coalesce(closed_on, offered_on) AS day,
        coalesce(offered_on, closed_on) AS first_day,
        size_label,
        stamp_text,
        CASE
            WHEN stock_ref IS NOT NULL THEN left(md5('stock' || chr(31) || stock_ref), 16)
            WHEN stamp_text IS NOT NULL AND notes IS NOT NULL THEN left(md5(
                'stamp' || chr(31) || silhouette || chr(31) || colourway || chr(31) || stamp_text
                || chr(31) || foot_mm || chr(31) || lower(notes)
            ), 16)
        END AS own_key
    FROM staged_rows
    INNER JOIN row_records ON staged_rows.rowid = row_records.row_id
    WHERE row_records.record_id NOT IN (SELECT record_id FROM merged_sales)
    UNION ALL
    SELECT
        record_id,
        venue,
        title,
        status,
        coalesce(closed_on, offered_on),
        coalesce(offered_on, closed_on),
        size_label,
        stamp_text,
        CASE
            WHEN stock_ref IS NOT NULL THEN left(md5('stock' || chr(31) || stock_ref), 16)
            WHEN stamp_text IS NOT NULL AND notes IS NOT NULL THEN left(md5(
                'stamp' || chr(31) || silhouette || chr(31) || colourway || chr(31) || stamp_text
                || chr(31) || foot_mm || chr(31) || lower(notes)
            ), 16)
        END
    FROM merged_sales
),
likenesses AS (
    SELECT hash(venue, title, size_label, stamp_text) AS likeness
    FROM staged_rows
    WHERE title IS NOT NULL AND size_label IS NOT NULL
    GROUP BY likeness
    HAVING count(*) > 1 AND count(*) FILTER (status IN ('unsold', 'withdrawn')) > 0
),
alike AS (
    SELECT *
    FROM offers
    WHERE
        title IS NOT NULL
        AND size_label IS NOT NULL
        AND day IS NOT NULL
        AND hash(venue, title, size_label, stamp_text) IN (SELECT likeness FROM likenesses)
),
in_turn AS (
    SELECT
        *,
        lag(status) OVER turn AS status_before,
        lag(day) OVER turn AS day_before
    FROM alike
    WINDOW turn AS (PARTITION BY venue, title, size_label, stamp_text ORDER BY day, first_day, record_id)
),
histories AS (
    SELECT
        *,
        sum(
            CASE
                WHEN
                    status_before IN ('unsold', 'withdrawn')
                    AND first_day > day_before
                    AND day - day_before <= 400
                    THEN 0
                ELSE 1
            END
        ) OVER (
            PARTITION BY venue, title, size_label, stamp_text
            ORDER BY day, first_day, record_id
        ) AS history
    FROM in_turn
),
told AS (
    SELECT
        record_id,
        own_key,
        count(*) OVER whole AS offer_count,
        min(own_key) OVER whole AS least_key,
        max(own_key) OVER whole AS greatest_key,
        left(md5('offers' || chr(31) || min(record_id) OVER whole), 16) AS history_key
    FROM histories
    WINDOW whole AS (PARTITION BY venue, title, size_label, stamp_text, history)
)
SELECT
    record_id,
    CASE
        WHEN least_key IS NULL THEN history_key
        WHEN least_key = greatest_key THEN least_key
    END AS pair_key
FROM told
WHERE own_key IS NULL AND offer_count > 1 AND (least_key IS NULL OR least_key = greatest_key)
UNION ALL
SELECT record_id, own_key
FROM offers
WHERE own_key IS NOT NULL

{% from "macros/offers.jinja" import every_offer %}
{% from "macros/use_in_fit.jinja" import use_in_fit %}
-- record_list: a page of the sales and offers that match, in the order asked for, each with what becomes of it in the fit.
-- grain: record_id
-- reads: current_rows, settled_rows, settled_sales, source_files, corrected_rows, removed_rows
-- binds: record_ids, file_name, venue, silhouette, era, size_mm, least, most, since, until, said, only_left_out, only_corrected (NULL for all), order_by (day, pair, price, era, size, grade or venue), descending, eras (the names of eras in their order), start (how many to leave out before it, NULL for none), first (how many at most, NULL for all)
-- columns: record_id VARCHAR, day DATE, venue VARCHAR, status VARCHAR, title VARCHAR, silhouette VARCHAR, colourway VARCHAR, era VARCHAR, size_label VARCHAR, size_system VARCHAR, foot_mm INTEGER, grade DOUBLE, price_paid DECIMAL(18,4), currency VARCHAR, price_native DECIMAL(18,4), lot_ref VARCHAR, stock_ref VARCHAR, use VARCHAR, is_corrected BOOLEAN, matching BIGINT
-- `said` is looked for in titles and notes, without case and accents, or is a pair's whole lot or stock number. What is not known comes last in either order, and
-- equal records in that of their ids, so that pages have each record once. Records are found, counted and put in order
-- as numbers; what the list says of them is read of the page alone, by two numbers of each record, since the engine
-- passes over most other rows by either. They are not taken from the view `sales`, which also looks for the pair of each.
WITH offers AS NOT MATERIALIZED (
{{ every_offer() }}
),
known AS NOT MATERIALIZED (
    SELECT
        offers.*,
        coalesce(sold_on, closed_on, offered_on) AS day,
        {{ use_in_fit() }}
    FROM offers
),
of_file AS (
    SELECT coalesce(settled_rows.record_key, current_rows.node) AS record_key
    FROM current_rows
    INNER JOIN source_files ON current_rows.file_sha256 = source_files.file_sha256
    LEFT JOIN settled_rows ON current_rows.row_id = settled_rows.row_id
    WHERE file_name = $file_name
),
corrected AS (
    SELECT coalesce(settled_rows.record_key, corrected_rows.node) AS record_key
    FROM corrected_rows
    ANTI JOIN removed_rows ON corrected_rows.row_id = removed_rows.row_id
    LEFT JOIN settled_rows ON corrected_rows.row_id = settled_rows.row_id
),
matched AS MATERIALIZED (
    SELECT
        record_key,
        row_id,
        CASE WHEN $descending THEN -1 ELSE 1 END * CASE $order_by
            WHEN 'day' THEN CAST(day - DATE '1970-01-01' AS DOUBLE)
            WHEN 'price' THEN CAST(price_paid AS DOUBLE)
            WHEN 'era' THEN CAST(list_position(CAST($eras AS VARCHAR[]), era) AS DOUBLE)
            WHEN 'size' THEN CAST(foot_mm AS DOUBLE)
            WHEN 'grade' THEN grade
        END AS number,
        CASE $order_by
            WHEN 'pair' THEN coalesce(nullif(concat_ws(' ', silhouette, colourway), ''), title)
            WHEN 'venue' THEN venue
        END AS name
    FROM known
    WHERE
        ($record_ids IS NULL OR record_key IN (
            SELECT CAST('0x' || unnest(CAST($record_ids AS VARCHAR[])) AS UBIGINT)
        ))
        AND ($file_name IS NULL OR record_key IN (FROM of_file))
        AND ($venue IS NULL OR venue = $venue)
        AND ($silhouette IS NULL OR silhouette = $silhouette)
        AND ($era IS NULL OR era = $era)
        AND ($size_mm IS NULL OR 5 * round(foot_mm / 5.0) = $size_mm)
        AND ($least IS NULL OR coalesce(price_paid, ask_price) >= $least)
        AND ($most IS NULL OR coalesce(price_paid, ask_price) <= $most)
        AND ($since IS NULL OR day >= $since)
        AND ($until IS NULL OR day <= $until)
        AND ($only_left_out IS NULL OR use <> 'in the fit')
        AND ($only_corrected IS NULL OR record_key IN (FROM corrected))
        AND (
            $said IS NULL
            OR contains(folded, folded_text($said, NULL))
            OR lower(lot_ref) = lower($said)
            OR lower(stock_ref) = lower($said)
        )
),
page AS (
    SELECT
        record_key,
        row_id,
        number,
        CASE WHEN NOT $descending THEN name END AS name_up,
        CASE WHEN $descending THEN name END AS name_down
    FROM matched
    ORDER BY number NULLS LAST, name_up NULLS LAST, name_down DESC NULLS LAST, record_key
    LIMIT coalesce($first, 9223372036854775807)
    OFFSET coalesce($start, 0)
)
SELECT
    format('{:016x}', known.record_key) AS record_id,
    day,
    venue,
    status,
    title,
    silhouette,
    colourway,
    era,
    size_label,
    size_system,
    foot_mm,
    grade,
    price_paid,
    currency,
    price_native,
    lot_ref,
    stock_ref,
    use,
    known.record_key IN (FROM corrected) AS is_corrected,
    (SELECT count(*) FROM matched) AS matching
FROM known
INNER JOIN page ON known.record_key = page.record_key AND known.row_id = page.row_id
ORDER BY page.number NULLS LAST, page.name_up NULLS LAST, page.name_down DESC NULLS LAST, page.record_key

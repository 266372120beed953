{% from "macros/use_in_fit.jinja" import use_in_fit %}
-- record_list: the sales and offers that match, the newest first, each with what becomes of it in the fit.
-- grain: record_id
-- reads: sales, record_sources, source_files, current_rows, corrected_rows
-- binds: record_ids, file_name, venue, silhouette, era, size_mm, least, most, since, until, said, only_left_out, only_corrected (NULL for all), first (how many at most, NULL for all)
-- columns: record_id VARCHAR, day DATE, venue VARCHAR, status VARCHAR, title VARCHAR, silhouette VARCHAR, colourway VARCHAR, era VARCHAR, size_label VARCHAR, size_system VARCHAR, foot_mm INTEGER, grade DOUBLE, price_paid DECIMAL(18,4), currency VARCHAR, price_native DECIMAL(18,4), lot_ref VARCHAR, stock_ref VARCHAR, use VARCHAR, is_corrected BOOLEAN, matching BIGINT
-- `said` is looked for in titles and notes, without case and accents.
WITH of_file AS (
    SELECT DISTINCT record_id
    FROM record_sources
    INNER JOIN source_files ON record_sources.file_sha256 = source_files.file_sha256
    WHERE file_name = $file_name
),
corrected AS (
    SELECT DISTINCT record_id
    FROM record_sources
    INNER JOIN corrected_rows
        ON record_sources.file_sha256 = corrected_rows.file_sha256
        AND record_sources.sheet = corrected_rows.sheet
        AND record_sources.row_number = corrected_rows.row_number
),
known AS (
    SELECT
        sales.*,
        coalesce(sold_on, closed_on, offered_on) AS day,
        {{ use_in_fit() }}
    FROM sales
),
matched AS (
    SELECT *
    FROM known
    WHERE
        ($record_ids IS NULL OR list_contains(CAST($record_ids AS VARCHAR[]), record_id))
        AND ($file_name IS NULL OR record_id IN (FROM of_file))
        AND ($venue IS NULL OR venue = $venue)
        AND ($silhouette IS NULL OR silhouette = $silhouette)
        AND ($era IS NULL OR era = $era)
        AND ($size_mm IS NULL OR 5 * round(foot_mm / 5.0) = $size_mm)
        AND ($least IS NULL OR coalesce(price_paid, ask_price) >= $least)
        AND ($most IS NULL OR coalesce(price_paid, ask_price) <= $most)
        AND ($since IS NULL OR day >= $since)
        AND ($until IS NULL OR day <= $until)
        AND (
            $said IS NULL
            OR contains(strip_accents(lower(concat_ws(' ', title, notes))), strip_accents(lower($said)))
        )
        AND ($only_left_out IS NULL OR use <> 'in the fit')
        AND ($only_corrected IS NULL OR record_id IN (FROM corrected))
)
SELECT
    record_id,
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
    record_id IN (FROM corrected) AS is_corrected,
    count(*) OVER () AS matching
FROM matched
ORDER BY day DESC NULLS LAST, record_id
LIMIT coalesce($first, 9223372036854775807)

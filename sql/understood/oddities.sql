-- oddities: the odd values of rows: prices ten times or a tenth of the usual, days far from the others, cells that
-- could not be read, sizes and levels that one sale alone has.
-- grain: kind, field, value, file_name, sheet, row_number
-- reads: current_rows, settled_rows, unread_cells, source_files
-- binds: file_sha256 (NULL for all files), most (how many of a kind; NULL for all)
-- columns: kind VARCHAR, field VARCHAR, value VARCHAR, beside VARCHAR, times DOUBLE, file_name VARCHAR, sheet VARCHAR, row_number BIGINT, title VARCHAR, of_kind BIGINT
-- A price is beside the median of its silhouette in its era where five sales have both, else of its silhouette
-- (of other files, where they have five: a file of which every price is in cents is no measure of itself); a day is
-- far where at most three rows lie beyond a year without any; `beside` is what the value is compared with.
WITH known_rows AS NOT MATERIALIZED (
    SELECT
        current_rows.row_id,
        coalesce(settled_rows.record_key, current_rows.node) AS record_key,
        coalesce($file_sha256 IS NULL OR current_rows.file_sha256 = $file_sha256, FALSE) AS is_asked,
        coalesce(sold_on, closed_on, offered_on) AS day,
        CAST(price_paid AS DOUBLE) AS price,
        silhouette,
        colourway,
        era,
        grade,
        CAST(5 * round(foot_mm / 5.0) AS INTEGER) AS size,
        parts,
        defects,
        treatments
    FROM current_rows
    LEFT JOIN settled_rows ON current_rows.row_id = settled_rows.row_id
),
usual AS (
    SELECT
        silhouette,
        era,
        CASE
            WHEN count(*) FILTER (NOT is_asked) >= 5 THEN median(price) FILTER (NOT is_asked)
            ELSE median(price)
        END AS usual_price
    FROM known_rows
    WHERE price > 0 AND silhouette IS NOT NULL
    GROUP BY GROUPING SETS ((silhouette, era), (silhouette))
    HAVING count(*) >= 5 AND (grouping(era) = 1 OR era IS NOT NULL)
),
prices AS (
    SELECT known_rows.row_id, price, coalesce(in_era.usual_price, in_all.usual_price) AS usual_price
    FROM known_rows
    LEFT JOIN usual AS in_era ON known_rows.silhouette = in_era.silhouette AND known_rows.era = in_era.era
    LEFT JOIN usual AS in_all ON known_rows.silhouette = in_all.silhouette AND in_all.era IS NULL
    WHERE is_asked AND price > 0
),
days AS (
    SELECT day, count(*) AS row_count
    FROM known_rows
    WHERE is_asked AND day IS NOT NULL
    GROUP BY day
),
in_order AS (
    SELECT
        day,
        sum(row_count) OVER (ORDER BY day) AS up_to,
        sum(row_count) OVER (ORDER BY day DESC) AS from_on,
        lag(day) OVER (ORDER BY day) AS earlier,
        lead(day) OVER (ORDER BY day) AS later,
        sum(row_count) OVER () AS all_rows
    FROM days
),
gaps AS (
    SELECT
        arg_max(day, day) FILTER (up_to <= 3 AND later - day > 365) AS last_early,
        arg_max(later, day) FILTER (up_to <= 3 AND later - day > 365) AS first_usual,
        arg_min(day, day) FILTER (from_on <= 3 AND day - earlier > 365) AS first_late,
        arg_min(earlier, day) FILTER (from_on <= 3 AND day - earlier > 365) AS last_usual
    FROM in_order
    WHERE all_rows >= 12
),
levels AS (
    SELECT
        CASE
            WHEN grouping(size) = 0 THEN 'size'
            WHEN grouping(colourway) = 0 THEN 'colourway'
            WHEN grouping(silhouette) = 0 THEN 'silhouette'
            WHEN grouping(era) = 0 THEN 'era'
            ELSE 'grade'
        END AS field,
        coalesce(size || ' mm', silhouette || ', ' || colourway, silhouette, era, CAST(grade AS VARCHAR)) AS value,
        min(record_key) AS first_record,
        max(record_key) AS last_record,
        min(row_id) FILTER (is_asked) AS row_id
    FROM known_rows
    GROUP BY GROUPING SETS ((size), (silhouette, colourway), (silhouette), (era), (grade))
    HAVING grouping(colourway) = 1 OR colourway IS NOT NULL
),
lists AS (
    SELECT row_id, record_key, is_asked, field, unnest(entries) AS value
    FROM (
        UNPIVOT (SELECT row_id, record_key, is_asked, parts, defects, treatments FROM known_rows)
        ON parts, defects, treatments INTO NAME field VALUE entries
    )
    WHERE len(entries) > 0
),
once AS (
    SELECT field, value, row_id
    FROM levels
    WHERE first_record = last_record AND row_id IS NOT NULL AND value IS NOT NULL
    UNION ALL
    SELECT field, value, min(row_id) FILTER (is_asked)
    FROM lists
    GROUP BY field, value
    HAVING min(record_key) = max(record_key) AND bool_or(is_asked)
),
odd AS (
    SELECT
        'price' AS kind,
        'price_paid' AS field,
        CAST(round(price, 2) AS VARCHAR) AS value,
        CAST(round(usual_price, 2) AS VARCHAR) AS beside,
        price / usual_price AS times,
        abs(ln(price / usual_price)) AS weight,
        row_id
    FROM prices
    WHERE price >= 10 * usual_price OR price <= usual_price / 10
    UNION ALL
    SELECT
        'day',
        'day',
        CAST(day AS VARCHAR),
        CAST(CASE WHEN day <= last_early THEN first_usual ELSE last_usual END AS VARCHAR),
        NULL,
        abs(day - CASE WHEN day <= last_early THEN first_usual ELSE last_usual END),
        row_id
    FROM known_rows
    INNER JOIN gaps ON day <= last_early OR day >= first_late
    WHERE is_asked
    UNION ALL
    SELECT CASE WHEN field = 'size' THEN 'size' ELSE 'level' END, field, value, NULL, NULL, 0, row_id
    FROM once
),
placed AS (
    SELECT kind, field, value, beside, times, weight, file_sha256, sheet, row_number, title
    FROM odd
    INNER JOIN current_rows ON odd.row_id = current_rows.row_id
    UNION ALL
    SELECT
        'unread',
        field,
        value,
        reason,
        NULL,
        0,
        unread_cells.file_sha256,
        unread_cells.sheet,
        unread_cells.row_number,
        title
    FROM unread_cells
    LEFT JOIN current_rows
        ON
            unread_cells.file_sha256 = current_rows.file_sha256
            AND unread_cells.sheet = current_rows.sheet
            AND unread_cells.row_number = current_rows.row_number
    WHERE $file_sha256 IS NULL OR unread_cells.file_sha256 = $file_sha256
)
SELECT
    kind,
    field,
    value,
    beside,
    times,
    file_name,
    sheet,
    row_number,
    title,
    count(*) OVER (PARTITION BY kind) AS of_kind
FROM placed
INNER JOIN source_files ON placed.file_sha256 = source_files.file_sha256
QUALIFY
    row_number() OVER (
        PARTITION BY kind ORDER BY weight DESC, file_name, sheet, row_number, field, value
    ) <= coalesce($most, 9223372036854775807)
ORDER BY
    list_position(['price', 'day', 'unread', 'size', 'level'], kind),
    weight DESC,
    file_name,
    sheet,
    row_number,
    field,
    value

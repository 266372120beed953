-- settled_sales: merge the settled rows into sales, and apply what the owner and a fit have said of them.
-- grain: record_key
-- reads: current_rows, settled_rows, said_of_sales
-- writes: settled_sales
-- Offer and money come together from the leading row: sold before unsold, a venue's own lot before others, then an
-- order that rests on what the rows say and not on where they stand. Of an attribute the better known value
-- counts: stated, then title, then inferred. Where sources differ, a flag says so.
INSERT INTO settled_sales BY NAME
WITH stated AS (
    SELECT
        settled_rows.record_key,
        current_rows.*,
        row_number() OVER (
            PARTITION BY settled_rows.record_key
            ORDER BY
                list_position(['sold', 'unsold', 'withdrawn', 'open'], status),
                lot_ref IS NULL,
                content_key(current_rows)
        ) AS place
    FROM current_rows
    INNER JOIN settled_rows ON current_rows.row_id = settled_rows.row_id
),
ranked AS (
    SELECT
        *,
        first_value(currency) OVER (PARTITION BY record_key ORDER BY place) AS lead_currency,
        list_position(['stated', 'title', 'inferred'], maker_origin) * 1000000 + place AS maker_rank,
        list_position(['stated', 'title', 'inferred'], silhouette_origin) * 1000000 + place AS silhouette_rank,
        list_position(['stated', 'title', 'inferred'], colourway_origin) * 1000000 + place AS colourway_rank,
        list_position(['stated', 'title', 'inferred'], era_origin) * 1000000 + place AS era_rank,
        list_position(['stated', 'title', 'inferred'], grade_origin) * 1000000 + place AS grade_rank,
        list_position(['stated', 'title', 'inferred'], box_origin) * 1000000 + place AS box_rank,
        list_position(['stated', 'title', 'inferred'], tags_origin) * 1000000 + place AS tags_rank,
        list_position(['stated', 'title', 'inferred'], parts_origin) * 1000000 + place AS parts_rank,
        list_position(['stated', 'title', 'inferred'], overlay_origin) * 1000000 + place AS overlay_rank,
        list_position(['stated', 'title', 'inferred'], lasting_origin) * 1000000 + place AS lasting_rank,
        list_position(['stated', 'title', 'inferred'], defects_origin) * 1000000 + place AS defects_rank,
        list_position(['stated', 'title', 'inferred'], treatments_origin) * 1000000 + place AS treatments_rank,
        list_position(['stated', 'title', 'inferred'], size_label_origin) * 1000000 + place + CASE WHEN foot_mm IS NULL THEN 10000000 ELSE 0 END AS size_rank,
        place + CASE WHEN stamp_from IS NULL THEN 10000000 ELSE 0 END AS stamp_rank
    FROM stated
),
merged AS (
    SELECT
        record_key,
        any_value(venue) FILTER (place = 1) AS venue,
        arg_min(sale_ref, place) AS sale_ref,
        arg_min(lot_ref, place) AS lot_ref,
        arg_min(stock_ref, place) AS stock_ref,
        arg_min(title, place) AS title,
        arg_min(notes, place) AS notes,
        any_value(status) FILTER (place = 1) AS status,
        arg_min(offered_on, place) AS offered_on,
        arg_min(closed_on, place) AS closed_on,
        any_value(sold_on) FILTER (place = 1) AS sold_on,
        any_value(currency) FILTER (place = 1) AS currency,
        any_value(price_basis) FILTER (place = 1) AS price_basis,
        any_value(price_native) FILTER (place = 1) AS price_native,
        any_value(all_in_native) FILTER (place = 1) AS all_in_native,
        any_value(net_native) FILTER (place = 1) AS net_native,
        arg_min(ask_native, place) FILTER (currency = lead_currency) AS ask_native,
        any_value(rate) FILTER (place = 1) AS rate,
        any_value(rate_on) FILTER (place = 1) AS rate_on,
        any_value(price_paid) FILTER (place = 1) AS price_paid,
        arg_min(ask_price, place) FILTER (currency = lead_currency) AS ask_price,
        arg_min(maker, maker_rank) AS maker,
        coalesce(arg_min(maker_origin, maker_rank), 'unknown') AS maker_origin,
        arg_min(silhouette, silhouette_rank) AS silhouette,
        coalesce(arg_min(silhouette_origin, silhouette_rank), 'unknown') AS silhouette_origin,
        arg_min(colourway, colourway_rank) AS colourway,
        coalesce(arg_min(colourway_origin, colourway_rank), 'unknown') AS colourway_origin,
        arg_min(era, era_rank) AS era,
        coalesce(arg_min(era_origin, era_rank), 'unknown') AS era_origin,
        arg_min(size_label, size_rank) AS size_label,
        coalesce(arg_min(size_label_origin, size_rank), 'unknown') AS size_label_origin,
        arg_min(size_system, size_rank) AS size_system,
        arg_min(foot_mm, size_rank) AS foot_mm,
        arg_min(grade, grade_rank) AS grade,
        coalesce(arg_min(grade_origin, grade_rank), 'unknown') AS grade_origin,
        coalesce(arg_min(box, box_rank), 'unknown') AS box,
        coalesce(arg_min(box_origin, box_rank), 'unknown') AS box_origin,
        coalesce(arg_min(tags, tags_rank), 'unknown') AS tags,
        coalesce(arg_min(tags_origin, tags_rank), 'unknown') AS tags_origin,
        arg_min(parts, parts_rank) AS parts,
        coalesce(arg_min(parts_origin, parts_rank), 'unknown') AS parts_origin,
        coalesce(arg_min(overlay, overlay_rank), 'unknown') AS overlay,
        coalesce(arg_min(overlay_origin, overlay_rank), 'unknown') AS overlay_origin,
        coalesce(arg_min(lasting, lasting_rank), 'unknown') AS lasting,
        coalesce(arg_min(lasting_origin, lasting_rank), 'unknown') AS lasting_origin,
        arg_min(defects, defects_rank) AS defects,
        coalesce(arg_min(defects_origin, defects_rank), 'unknown') AS defects_origin,
        arg_min(treatments, treatments_rank) AS treatments,
        coalesce(arg_min(treatments_origin, treatments_rank), 'unknown') AS treatments_origin,
        arg_min(stamp_text, stamp_rank) AS stamp_text,
        arg_min(stamp_from, stamp_rank) AS stamp_from,
        arg_min(stamp_to, stamp_rank) AS stamp_to,
        arg_min(factory_code, stamp_rank) AS factory_code,
        arg_min(production_year, stamp_rank) AS production_year,
        list_distinct(flatten(list(flags))) AS row_flags,
        list_filter(
            [
                CASE WHEN count(DISTINCT era) > 1 THEN 'era in conflict' END,
                CASE WHEN max(foot_mm) - min(foot_mm) > 5 THEN 'size conflict' END,
                CASE
                    WHEN
                        max(price_paid) > 1.005 * min(price_paid)
                        OR count(DISTINCT status) FILTER (status <> 'open') > 1
                        OR count(DISTINCT sold_on) > 1
                        THEN 'sources disagree on the sale'
                END,
                CASE
                    WHEN
                        count(DISTINCT silhouette) FILTER (silhouette_origin = 'stated') > 1
                        OR count(DISTINCT colourway) FILTER (colourway_origin = 'stated') > 1
                        OR count(DISTINCT grade) FILTER (grade_origin = 'stated') > 1
                        OR count(DISTINCT box) FILTER (box_origin = 'stated') > 1
                        OR count(DISTINCT tags) FILTER (tags_origin = 'stated') > 1
                        OR count(DISTINCT list_sort(parts)) FILTER (parts_origin = 'stated') > 1
                        OR count(DISTINCT overlay) FILTER (overlay_origin = 'stated') > 1
                        OR count(DISTINCT lasting) FILTER (lasting_origin = 'stated') > 1
                        OR count(DISTINCT list_sort(defects)) FILTER (defects_origin = 'stated') > 1
                        OR count(DISTINCT list_sort(treatments)) FILTER (treatments_origin = 'stated') > 1
                        THEN 'sources disagree on the pair'
                END
            ],
            lambda flag: flag IS NOT NULL
        ) AS new_flags
    FROM ranked
    GROUP BY record_key
),
ruled AS (
    SELECT
        merged.record_key,
        venue,
        sale_ref,
        lot_ref,
        stock_ref,
        title,
        notes,
        status,
        offered_on,
        closed_on,
        sold_on,
        currency,
        price_basis,
        price_native,
        all_in_native,
        net_native,
        ask_native,
        rate,
        rate_on,
        price_paid,
        ask_price,
        maker,
        maker_origin,
        silhouette,
        silhouette_origin,
        colourway,
        colourway_origin,
        coalesce(said.era, merged.era) AS era,
        CASE WHEN said.era IS NULL THEN era_origin ELSE 'stated' END AS era_origin,
        size_label,
        size_label_origin,
        size_system,
        foot_mm,
        grade,
        grade_origin,
        box,
        box_origin,
        tags,
        tags_origin,
        parts,
        parts_origin,
        overlay,
        overlay_origin,
        lasting,
        lasting_origin,
        defects,
        defects_origin,
        treatments,
        treatments_origin,
        stamp_text,
        stamp_from,
        stamp_to,
        factory_code,
        production_year,
        list_sort(list_filter(
            list_distinct(flatten([row_flags, new_flags, coalesce(said.price_flags, [])])),
            lambda flag: said.era IS NULL OR flag <> 'era in conflict'
        )) AS flags,
        said.verdict
    FROM merged
    LEFT JOIN said_of_sales AS said ON merged.record_key = said.record_key
)
SELECT
    record_key,
    venue,
    sale_ref,
    lot_ref,
    stock_ref,
    title,
    notes,
    status,
    offered_on,
    closed_on,
    sold_on,
    currency,
    price_basis,
    price_native,
    all_in_native,
    net_native,
    ask_native,
    rate,
    rate_on,
    price_paid,
    ask_price,
    maker,
    maker_origin,
    silhouette,
    silhouette_origin,
    colourway,
    colourway_origin,
    era,
    era_origin,
    size_label,
    size_label_origin,
    size_system,
    foot_mm,
    grade,
    grade_origin,
    box,
    box_origin,
    tags,
    tags_origin,
    parts,
    parts_origin,
    overlay,
    overlay_origin,
    lasting,
    lasting_origin,
    defects,
    defects_origin,
    treatments,
    treatments_origin,
    stamp_text,
    stamp_from,
    stamp_to,
    factory_code,
    production_year,
    flags,
    CASE verdict
        WHEN 'accept' THEN FALSE
        WHEN 'hold' THEN TRUE
        ELSE list_has_any(flags, CAST($holding_flags AS VARCHAR[]))
    END AS held_out
FROM ruled

-- merged_sales: the sales that several rows tell of, merged.
-- grain: record_id
-- reads: staged_rows, row_records
-- columns: those of a sale record (pipeline/schema.py) without pair_key and held_out
-- Offer and money come together from the leading row: sold before unsold, a venue's own lot before
-- others, then an order that rests on what the rows say and not on where they stand. Of an attribute the
-- better known value counts: stated, then title, then inferred. Where sources differ, a flag says so.
CREATE OR REPLACE TEMP TABLE merged_sales AS
WITH several AS (
    SELECT record_id
    FROM row_records
    GROUP BY record_id
    HAVING count(*) > 1
),
told AS (
    SELECT
        row_records.record_id,
        staged_rows.*,
        row_number() OVER (
            PARTITION BY row_records.record_id
            ORDER BY
                list_position(['sold', 'unsold', 'withdrawn', 'open'], status),
                lot_ref IS NULL,
                content_key
        ) AS place,
        list_position(['stated', 'title', 'inferred', 'unknown'], maker_origin) AS maker_rank,
        list_position(['stated', 'title', 'inferred', 'unknown'], silhouette_origin) AS silhouette_rank,
        list_position(['stated', 'title', 'inferred', 'unknown'], colourway_origin) AS colourway_rank,
        list_position(['stated', 'title', 'inferred', 'unknown'], era_origin) AS era_rank,
        list_position(['stated', 'title', 'inferred', 'unknown'], grade_origin) AS grade_rank,
        list_position(['stated', 'title', 'inferred', 'unknown'], box_origin) AS box_rank,
        list_position(['stated', 'title', 'inferred', 'unknown'], tags_origin) AS tags_rank,
        list_position(['stated', 'title', 'inferred', 'unknown'], parts_origin) AS parts_rank,
        list_position(['stated', 'title', 'inferred', 'unknown'], overlay_origin) AS overlay_rank,
        list_position(['stated', 'title', 'inferred', 'unknown'], lasting_origin) AS lasting_rank,
        list_position(['stated', 'title', 'inferred', 'unknown'], defects_origin) AS defects_rank,
        list_position(['stated', 'title', 'inferred', 'unknown'], treatments_origin) AS treatments_rank,
        list_position(['stated', 'title', 'inferred', 'unknown'], size_label_origin) AS size_rank
    FROM staged_rows
    INNER JOIN row_records ON staged_rows.rowid = row_records.row_id
    INNER JOIN several USING (record_id)
),
led AS (
    SELECT *, first_value(currency) OVER (PARTITION BY record_id ORDER BY place) AS lead_currency
    FROM told
),
merged AS (
    SELECT
        record_id,
        first(venue ORDER BY place) AS venue,
        arg_min(sale_ref, place) AS sale_ref,
        arg_min(lot_ref, place) AS lot_ref,
        arg_min(stock_ref, place) AS stock_ref,
        arg_min(title, place) AS title,
        arg_min(notes, place) AS notes,
        first(status ORDER BY place) AS status,
        arg_min(offered_on, place) AS offered_on,
        arg_min(closed_on, place) AS closed_on,
        first(sold_on ORDER BY place) AS sold_on,
        first(currency ORDER BY place) AS currency,
        first(price_basis ORDER BY place) AS price_basis,
        first(price_native ORDER BY place) AS price_native,
        first(all_in_native ORDER BY place) AS all_in_native,
        first(net_native ORDER BY place) AS net_native,
        arg_min(ask_native, place) FILTER (currency = lead_currency) AS ask_native,
        first(rate ORDER BY place) AS rate,
        first(rate_on ORDER BY place) AS rate_on,
        first(price_paid ORDER BY place) AS price_paid,
        arg_min(ask_price, place) FILTER (currency = lead_currency) AS ask_price,
        arg_min(maker, (maker_rank, place)) FILTER (maker_rank < 4) AS maker,
        coalesce(arg_min(maker_origin, (maker_rank, place)) FILTER (maker_rank < 4), 'unknown') AS maker_origin,
        arg_min(silhouette, (silhouette_rank, place)) FILTER (silhouette_rank < 4) AS silhouette,
        coalesce(arg_min(silhouette_origin, (silhouette_rank, place)) FILTER (silhouette_rank < 4), 'unknown') AS silhouette_origin,
        arg_min(colourway, (colourway_rank, place)) FILTER (colourway_rank < 4) AS colourway,
        coalesce(arg_min(colourway_origin, (colourway_rank, place)) FILTER (colourway_rank < 4), 'unknown') AS colourway_origin,
        arg_min(era, (era_rank, place)) FILTER (era_rank < 4) AS era,
        coalesce(arg_min(era_origin, (era_rank, place)) FILTER (era_rank < 4), 'unknown') AS era_origin,
        arg_min(size_label, (size_rank, place)) FILTER (size_rank < 4) AS size_label,
        coalesce(arg_min(size_label_origin, (size_rank, place)) FILTER (size_rank < 4), 'unknown') AS size_label_origin,
        arg_min(size_system, (size_rank, place)) FILTER (size_rank < 4) AS size_system,
        arg_min(foot_mm, (size_rank, place)) FILTER (size_rank < 4) AS foot_mm,
        arg_min(grade, (grade_rank, place)) FILTER (grade_rank < 4) AS grade,
        coalesce(arg_min(grade_origin, (grade_rank, place)) FILTER (grade_rank < 4), 'unknown') AS grade_origin,
        coalesce(arg_min(box, (box_rank, place)) FILTER (box_rank < 4), 'unknown') AS box,
        coalesce(arg_min(box_origin, (box_rank, place)) FILTER (box_rank < 4), 'unknown') AS box_origin,
        coalesce(arg_min(tags, (tags_rank, place)) FILTER (tags_rank < 4), 'unknown') AS tags,
        coalesce(arg_min(tags_origin, (tags_rank, place)) FILTER (tags_rank < 4), 'unknown') AS tags_origin,
        arg_min(parts, (parts_rank, place)) FILTER (parts_rank < 4) AS parts,
        coalesce(arg_min(parts_origin, (parts_rank, place)) FILTER (parts_rank < 4), 'unknown') AS parts_origin,
        coalesce(arg_min(overlay, (overlay_rank, place)) FILTER (overlay_rank < 4), 'unknown') AS overlay,
        coalesce(arg_min(overlay_origin, (overlay_rank, place)) FILTER (overlay_rank < 4), 'unknown') AS overlay_origin,
        coalesce(arg_min(lasting, (lasting_rank, place)) FILTER (lasting_rank < 4), 'unknown') AS lasting,
        coalesce(arg_min(lasting_origin, (lasting_rank, place)) FILTER (lasting_rank < 4), 'unknown') AS lasting_origin,
        arg_min(defects, (defects_rank, place)) FILTER (defects_rank < 4) AS defects,
        coalesce(arg_min(defects_origin, (defects_rank, place)) FILTER (defects_rank < 4), 'unknown') AS defects_origin,
        arg_min(treatments, (treatments_rank, place)) FILTER (treatments_rank < 4) AS treatments,
        coalesce(arg_min(treatments_origin, (treatments_rank, place)) FILTER (treatments_rank < 4), 'unknown') AS treatments_origin,
        arg_min(stamp_text, place) FILTER (stamp_text IS NOT NULL) AS stamp_text,
        arg_min(stamp_from, place) FILTER (stamp_text IS NOT NULL) AS stamp_from,
        arg_min(stamp_to, place) FILTER (stamp_text IS NOT NULL) AS stamp_to,
        arg_min(factory_code, place) FILTER (stamp_text IS NOT NULL) AS factory_code,
        arg_min(production_year, place) FILTER (stamp_text IS NOT NULL) AS production_year,
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
                    WHEN count(DISTINCT silhouette) FILTER (silhouette_rank = 1) > 1
                OR count(DISTINCT colourway) FILTER (colourway_rank = 1) > 1
                OR count(DISTINCT grade) FILTER (grade_rank = 1) > 1
                OR count(DISTINCT box) FILTER (box_rank = 1) > 1
                OR count(DISTINCT tags) FILTER (tags_rank = 1) > 1
                OR count(DISTINCT list_sort(parts)) FILTER (parts_rank = 1) > 1
                OR count(DISTINCT overlay) FILTER (overlay_rank = 1) > 1
                OR count(DISTINCT lasting) FILTER (lasting_rank = 1) > 1
                OR count(DISTINCT list_sort(defects)) FILTER (defects_rank = 1) > 1
                OR count(DISTINCT list_sort(treatments)) FILTER (treatments_rank = 1) > 1
                        THEN 'sources disagree on the pair'
                END
            ],
            lambda flag: flag IS NOT NULL
        ) AS new_flags
    FROM led
    GROUP BY record_id
)
SELECT
    record_id,
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
    list_distinct(list_concat(row_flags, new_flags)) AS flags
FROM merged

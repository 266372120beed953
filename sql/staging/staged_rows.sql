-- staged_rows: keep normalised rows of one file, with what each by itself is known by.
-- grain: row_id
-- reads: incoming (row_id, sheet, row_number and the columns of a sale record that one row can state)
-- writes: staged_rows
-- One venue, number and sale are one lot; one venue, number and day too where the sale has no number of its own; an offer
-- that has not ended is known by the day on which it began.
INSERT INTO staged_rows BY NAME
SELECT
    row_id,
    $file_sha256 AS file_sha256,
    sheet,
    row_number,
    CASE
        WHEN own_number(lot_ref, stock_ref) IS NULL OR (sale_ref IS NULL AND closed_on IS NULL AND offered_on IS NULL)
            THEN content_key(incoming)
        ELSE md5_number_lower(
            CASE WHEN sale_ref IS NULL AND closed_on IS NULL THEN 'listing' ELSE 'lot' END
            || chr(31) || venue || chr(31) || own_number(lot_ref, stock_ref) || chr(31)
            || coalesce('sale ' || sale_ref, CAST(coalesce(closed_on, offered_on) AS VARCHAR))
        )
    END AS node,
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
    held_out
FROM incoming

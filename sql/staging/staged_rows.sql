-- staged_rows: keep normalised rows of one file, with the keys by which the same sale is known.
-- grain: row_id
-- reads: incoming (row_id, sheet, row_number and the columns of a sale record that one row can tell)
-- writes: staged_rows
-- A key is a 64-bit digest of its parts; it is null where a part is missing. Where the venue's number of the
-- lot is missing, the owner's stock number stands for it.
INSERT INTO staged_rows BY NAME
WITH keyed AS (
    SELECT
        *,
        md5_number_lower(
            'lot' || chr(31) || venue || chr(31) || coalesce(lot_ref, 'stock ' || stock_ref)
            || chr(31) || coalesce('sale ' || sale_ref, CAST(closed_on AS VARCHAR))
        ) AS lot_key,
        CASE WHEN sale_ref IS NULL THEN md5_number_lower(
            'listing' || chr(31) || venue || chr(31) || coalesce(lot_ref, 'stock ' || stock_ref)
            || chr(31) || CAST(offered_on AS VARCHAR)
        ) END AS listing_key,
        CASE WHEN stock_ref IS NOT NULL THEN md5_number_lower(
            'stock' || chr(31) || stock_ref || chr(31) || CAST(closed_on AS VARCHAR)
            || chr(31) || CASE WHEN sold_on IS NULL THEN 'at ' || venue ELSE 'sold' END
        ) END AS stock_key
    FROM incoming
)
SELECT
    row_id,
    $file_sha256 AS file_sha256,
    sheet,
    row_number,
    CASE
        WHEN lot_key IS NOT NULL THEN lot_key
        WHEN listing_key IS NOT NULL THEN listing_key
        WHEN stock_key IS NOT NULL THEN stock_key
        ELSE content_key(keyed)
    END AS node,
    lot_key,
    listing_key,
    stock_key,
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
FROM keyed

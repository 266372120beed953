-- staged_rows: keep normalised rows of one file, with what each by itself is known by.
-- grain: row_id
-- reads: incoming (row_id, sheet, row_number and the columns of a sale record that one row can state)
-- writes: staged_rows
-- One venue, number and sale are one lot; one venue, number and day too where the sale has no number of its own; an offer
-- that has not ended is known by the day on which it began. The shifted number is that of md5_number_lower, which goes
-- by way of text and takes five times as long.
INSERT INTO staged_rows BY NAME
SELECT
    *,
    $file_sha256 AS file_sha256,
    folded_text(title, notes) AS folded,
    CASE
        WHEN own_number(lot_ref, stock_ref) IS NULL OR (sale_ref IS NULL AND closed_on IS NULL AND offered_on IS NULL)
            THEN content_key(incoming)
        ELSE CAST(md5_number(
            CASE WHEN sale_ref IS NULL AND closed_on IS NULL THEN 'listing' ELSE 'lot' END
            || chr(31) || venue || chr(31) || own_number(lot_ref, stock_ref) || chr(31)
            || coalesce('sale ' || sale_ref, CAST(coalesce(closed_on, offered_on) AS VARCHAR))
        ) >> 64 AS UBIGINT)
    END AS node
FROM incoming

-- 0001_ledger: the tables and views of the ledger. The columns of a sale record are those of
-- pipeline/schema.py; a test holds them against it. No unique indexes on the large tables: the checks prove
-- their grain.

-- grain: one row a migration
CREATE TABLE schema_version (version INTEGER NOT NULL);

-- grain: one row a run that changed something
CREATE TABLE runs (
    run_id INTEGER NOT NULL,
    loaded_at TIMESTAMP NOT NULL,
    as_of DATE NOT NULL,
    program_version VARCHAR NOT NULL
);

-- grain: one row a file's content; the same content under two names is one file
CREATE TABLE source_files (
    file_sha256 VARCHAR NOT NULL,
    file_name VARCHAR NOT NULL,
    map_name VARCHAR NOT NULL,
    reading_digest VARCHAR NOT NULL,
    size_bytes BIGINT NOT NULL,
    rows_read BIGINT NOT NULL,
    run_id INTEGER NOT NULL
);

-- grain: one row a run and file that it read, counted when that run had read it
CREATE TABLE run_files (
    run_id INTEGER NOT NULL,
    file_sha256 VARCHAR NOT NULL,
    file_name VARCHAR NOT NULL,
    rows_read BIGINT NOT NULL,
    recorded BIGINT NOT NULL,
    duplicates BIGINT NOT NULL,
    quarantined BIGINT NOT NULL
);

-- grain: row_id: one row of one sheet of one file that can be a sale record, normalised.
-- node is what the row by itself is known by: a digest of the venue and the number that the lot has there (failing
-- that, the owner's stock number), with the sale or the day; failing these, of all that the row says.
CREATE TABLE staged_rows (
    row_id BIGINT NOT NULL,
    file_sha256 VARCHAR NOT NULL,
    sheet VARCHAR NOT NULL,
    row_number BIGINT NOT NULL,
    node UBIGINT NOT NULL,
    venue VARCHAR,
    sale_ref VARCHAR,
    lot_ref VARCHAR,
    stock_ref VARCHAR,
    title VARCHAR,
    notes VARCHAR,
    status VARCHAR,
    offered_on DATE,
    closed_on DATE,
    sold_on DATE,
    currency VARCHAR,
    price_basis VARCHAR,
    price_native DECIMAL(18, 4),
    all_in_native DECIMAL(18, 4),
    net_native DECIMAL(18, 4),
    ask_native DECIMAL(18, 4),
    rate DOUBLE,
    rate_on DATE,
    price_paid DECIMAL(18, 4),
    ask_price DECIMAL(18, 4),
    maker VARCHAR,
    maker_origin VARCHAR,
    silhouette VARCHAR,
    silhouette_origin VARCHAR,
    colourway VARCHAR,
    colourway_origin VARCHAR,
    era VARCHAR,
    era_origin VARCHAR,
    size_label VARCHAR,
    size_label_origin VARCHAR,
    size_system VARCHAR,
    foot_mm INTEGER,
    grade DOUBLE,
    grade_origin VARCHAR,
    box VARCHAR,
    box_origin VARCHAR,
    tags VARCHAR,
    tags_origin VARCHAR,
    parts VARCHAR[],
    parts_origin VARCHAR,
    overlay VARCHAR,
    overlay_origin VARCHAR,
    lasting VARCHAR,
    lasting_origin VARCHAR,
    defects VARCHAR[],
    defects_origin VARCHAR,
    treatments VARCHAR[],
    treatments_origin VARCHAR,
    stamp_text VARCHAR,
    stamp_from DATE,
    stamp_to DATE,
    factory_code VARCHAR,
    production_year INTEGER,
    flags VARCHAR[],
    held_out BOOLEAN
);

-- The number by which a row is known at its venue.
CREATE MACRO own_number(lot_ref, stock_ref) AS coalesce(lot_ref, 'stock ' || stock_ref);

-- A digest of all that a row says, wherever it stands; `told` is the row.
CREATE MACRO content_key(told) AS md5_number_lower(concat_ws(
    chr(31),
    coalesce(told.venue, chr(29)),
    coalesce(told.sale_ref, chr(29)),
    coalesce(told.lot_ref, chr(29)),
    coalesce(told.stock_ref, chr(29)),
    coalesce(told.title, chr(29)),
    coalesce(told.notes, chr(29)),
    coalesce(told.status, chr(29)),
    coalesce(CAST(told.offered_on AS VARCHAR), chr(29)),
    coalesce(CAST(told.closed_on AS VARCHAR), chr(29)),
    coalesce(CAST(told.sold_on AS VARCHAR), chr(29)),
    coalesce(told.currency, chr(29)),
    coalesce(CAST(told.price_native AS VARCHAR), chr(29)),
    coalesce(CAST(told.ask_native AS VARCHAR), chr(29)),
    coalesce(told.maker, chr(29)),
    coalesce(told.silhouette, chr(29)),
    coalesce(told.colourway, chr(29)),
    coalesce(told.era, chr(29)),
    coalesce(told.size_label, chr(29)),
    coalesce(told.size_system, chr(29)),
    coalesce(CAST(told.grade AS VARCHAR), chr(29)),
    coalesce(told.box, chr(29)),
    coalesce(told.tags, chr(29)),
    coalesce(array_to_string(told.parts, chr(30)), chr(29)),
    coalesce(told.overlay, chr(29)),
    coalesce(told.lasting, chr(29)),
    coalesce(array_to_string(told.defects, chr(30)), chr(29)),
    coalesce(array_to_string(told.treatments, chr(30)), chr(29)),
    coalesce(told.stamp_text, chr(29))
));

-- The key of the physical pair that a row or sale by itself tells: the owner's stock number; failing that, what
-- stamp, size and notes say together.
CREATE MACRO own_pair_key(stock_ref, stamp_text, notes, silhouette, colourway, foot_mm) AS CASE
    WHEN stock_ref IS NOT NULL THEN left(md5('stock' || chr(31) || stock_ref), 16)
    WHEN stamp_text IS NOT NULL AND notes IS NOT NULL THEN left(md5(
        'stamp' || chr(31) || silhouette || chr(31) || colourway || chr(31) || stamp_text
        || chr(31) || foot_mm || chr(31) || lower(notes)
    ), 16)
END;

-- grain: one row of one sheet of one file that cannot be a sale record, with the first reason why
CREATE TABLE quarantine (
    file_sha256 VARCHAR NOT NULL,
    file_name VARCHAR NOT NULL,
    sheet VARCHAR NOT NULL,
    row_number BIGINT NOT NULL,
    field VARCHAR NOT NULL,
    value VARCHAR,
    reason VARCHAR NOT NULL,
    cells VARCHAR NOT NULL
);

-- grain: one row a cell that was stated but could not be read; its row is recorded without it
CREATE TABLE unread_cells (
    file_sha256 VARCHAR NOT NULL,
    sheet VARCHAR NOT NULL,
    row_number BIGINT NOT NULL,
    field VARCHAR NOT NULL,
    value VARCHAR NOT NULL,
    reason VARCHAR NOT NULL
);

-- grain: row_id: the staged rows whose sale is not simply themselves (several rows tell of it, or the owner or
-- a fit has said something of it); row_key is the row's own identity, record_key the sale's
CREATE TABLE settled_rows (
    row_id BIGINT NOT NULL,
    row_key UBIGINT NOT NULL,
    record_key UBIGINT NOT NULL
);

-- grain: record_key: the sales of the settled rows, merged
CREATE TABLE settled_sales (
    record_key UBIGINT NOT NULL,
    venue VARCHAR,
    sale_ref VARCHAR,
    lot_ref VARCHAR,
    stock_ref VARCHAR,
    title VARCHAR,
    notes VARCHAR,
    status VARCHAR,
    offered_on DATE,
    closed_on DATE,
    sold_on DATE,
    currency VARCHAR,
    price_basis VARCHAR,
    price_native DECIMAL(18, 4),
    all_in_native DECIMAL(18, 4),
    net_native DECIMAL(18, 4),
    ask_native DECIMAL(18, 4),
    rate DOUBLE,
    rate_on DATE,
    price_paid DECIMAL(18, 4),
    ask_price DECIMAL(18, 4),
    maker VARCHAR,
    maker_origin VARCHAR,
    silhouette VARCHAR,
    silhouette_origin VARCHAR,
    colourway VARCHAR,
    colourway_origin VARCHAR,
    era VARCHAR,
    era_origin VARCHAR,
    size_label VARCHAR,
    size_label_origin VARCHAR,
    size_system VARCHAR,
    foot_mm INTEGER,
    grade DOUBLE,
    grade_origin VARCHAR,
    box VARCHAR,
    box_origin VARCHAR,
    tags VARCHAR,
    tags_origin VARCHAR,
    parts VARCHAR[],
    parts_origin VARCHAR,
    overlay VARCHAR,
    overlay_origin VARCHAR,
    lasting VARCHAR,
    lasting_origin VARCHAR,
    defects VARCHAR[],
    defects_origin VARCHAR,
    treatments VARCHAR[],
    treatments_origin VARCHAR,
    stamp_text VARCHAR,
    stamp_from DATE,
    stamp_to DATE,
    factory_code VARCHAR,
    production_year INTEGER,
    flags VARCHAR[],
    held_out BOOLEAN
);

-- grain: record_key: the sales whose pair is known from other offers or from a ruling
CREATE TABLE pair_histories (
    record_key UBIGINT NOT NULL,
    pair_key VARCHAR NOT NULL
);

-- grain: one row a ruling of the owner; record_id and other_id are row keys or record ids
CREATE TABLE rulings (
    ruling_id VARCHAR NOT NULL,
    kind VARCHAR NOT NULL,
    record_id VARCHAR NOT NULL,
    other_id VARCHAR,
    field VARCHAR,
    value VARCHAR,
    note VARCHAR,
    ruled_at TIMESTAMP NOT NULL
);

-- grain: one row a sale and price flag of the latest fit
CREATE TABLE price_flags (
    record_id VARCHAR NOT NULL,
    flag VARCHAR NOT NULL
);

-- grain: one row a fit
CREATE TABLE fits (
    fit_id VARCHAR PRIMARY KEY,
    fitted_at TIMESTAMP,
    as_of DATE,
    market_digest VARCHAR,
    records_digest VARCHAR,
    document VARCHAR,
    arrays BLOB
);

-- grain: row_id: every staged row with the sale that it tells of, as numbers
CREATE VIEW row_records AS
SELECT
    staged_rows.row_id,
    staged_rows.file_sha256,
    coalesce(settled_rows.row_key, staged_rows.node) AS row_key,
    coalesce(settled_rows.record_key, staged_rows.node) AS record_key
FROM staged_rows
LEFT JOIN settled_rows ON staged_rows.row_id = settled_rows.row_id;

-- grain: file_sha256, sheet, row_number: every staged row with the sale that it tells of
CREATE VIEW record_sources AS
SELECT
    format('{:016x}', coalesce(settled_rows.record_key, staged_rows.node)) AS record_id,
    format('{:016x}', coalesce(settled_rows.row_key, staged_rows.node)) AS row_key,
    staged_rows.file_sha256,
    staged_rows.sheet,
    staged_rows.row_number
FROM staged_rows
LEFT JOIN settled_rows ON staged_rows.row_id = settled_rows.row_id;

-- grain: record_id: every sale and offer. A sale that one row alone tells of is that row.
CREATE VIEW sales AS
SELECT
    format('{:016x}', staged_rows.node) AS record_id,
    staged_rows.venue,
    staged_rows.sale_ref,
    staged_rows.lot_ref,
    staged_rows.stock_ref,
    coalesce(
        pair_histories.pair_key,
        own_pair_key(staged_rows.stock_ref, staged_rows.stamp_text, staged_rows.notes, staged_rows.silhouette, staged_rows.colourway, staged_rows.foot_mm)
    ) AS pair_key,
    staged_rows.title,
    staged_rows.notes,
    staged_rows.status,
    staged_rows.offered_on,
    staged_rows.closed_on,
    staged_rows.sold_on,
    staged_rows.currency,
    staged_rows.price_basis,
    staged_rows.price_native,
    staged_rows.all_in_native,
    staged_rows.net_native,
    staged_rows.ask_native,
    staged_rows.rate,
    staged_rows.rate_on,
    staged_rows.price_paid,
    staged_rows.ask_price,
    staged_rows.maker,
    staged_rows.maker_origin,
    staged_rows.silhouette,
    staged_rows.silhouette_origin,
    staged_rows.colourway,
    staged_rows.colourway_origin,
    staged_rows.era,
    staged_rows.era_origin,
    staged_rows.size_label,
    staged_rows.size_label_origin,
    staged_rows.size_system,
    staged_rows.foot_mm,
    staged_rows.grade,
    staged_rows.grade_origin,
    staged_rows.box,
    staged_rows.box_origin,
    staged_rows.tags,
    staged_rows.tags_origin,
    staged_rows.parts,
    staged_rows.parts_origin,
    staged_rows.overlay,
    staged_rows.overlay_origin,
    staged_rows.lasting,
    staged_rows.lasting_origin,
    staged_rows.defects,
    staged_rows.defects_origin,
    staged_rows.treatments,
    staged_rows.treatments_origin,
    staged_rows.stamp_text,
    staged_rows.stamp_from,
    staged_rows.stamp_to,
    staged_rows.factory_code,
    staged_rows.production_year,
    staged_rows.flags,
    staged_rows.held_out
FROM staged_rows
LEFT JOIN pair_histories ON staged_rows.node = pair_histories.record_key
WHERE NOT EXISTS (SELECT 1 FROM settled_rows WHERE settled_rows.row_id = staged_rows.row_id)
UNION ALL
SELECT
    format('{:016x}', settled_sales.record_key) AS record_id,
    settled_sales.venue,
    settled_sales.sale_ref,
    settled_sales.lot_ref,
    settled_sales.stock_ref,
    coalesce(
        pair_histories.pair_key,
        own_pair_key(settled_sales.stock_ref, settled_sales.stamp_text, settled_sales.notes, settled_sales.silhouette, settled_sales.colourway, settled_sales.foot_mm)
    ) AS pair_key,
    settled_sales.title,
    settled_sales.notes,
    settled_sales.status,
    settled_sales.offered_on,
    settled_sales.closed_on,
    settled_sales.sold_on,
    settled_sales.currency,
    settled_sales.price_basis,
    settled_sales.price_native,
    settled_sales.all_in_native,
    settled_sales.net_native,
    settled_sales.ask_native,
    settled_sales.rate,
    settled_sales.rate_on,
    settled_sales.price_paid,
    settled_sales.ask_price,
    settled_sales.maker,
    settled_sales.maker_origin,
    settled_sales.silhouette,
    settled_sales.silhouette_origin,
    settled_sales.colourway,
    settled_sales.colourway_origin,
    settled_sales.era,
    settled_sales.era_origin,
    settled_sales.size_label,
    settled_sales.size_label_origin,
    settled_sales.size_system,
    settled_sales.foot_mm,
    settled_sales.grade,
    settled_sales.grade_origin,
    settled_sales.box,
    settled_sales.box_origin,
    settled_sales.tags,
    settled_sales.tags_origin,
    settled_sales.parts,
    settled_sales.parts_origin,
    settled_sales.overlay,
    settled_sales.overlay_origin,
    settled_sales.lasting,
    settled_sales.lasting_origin,
    settled_sales.defects,
    settled_sales.defects_origin,
    settled_sales.treatments,
    settled_sales.treatments_origin,
    settled_sales.stamp_text,
    settled_sales.stamp_from,
    settled_sales.stamp_to,
    settled_sales.factory_code,
    settled_sales.production_year,
    settled_sales.flags,
    settled_sales.held_out
FROM settled_sales
LEFT JOIN pair_histories ON settled_sales.record_key = pair_histories.record_key;

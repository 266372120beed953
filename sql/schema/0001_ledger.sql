-- 0001_ledger: the tables of the ledger. The columns of a sale record are those of pipeline/schema.py;
-- a test holds them against it. No unique indexes on the large tables: the checks prove their grain.

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

-- grain: one row of one sheet of one file that can be a sale record, normalised.
-- lot_key, listing_key and stock_key are the exact keys of sameness (null where the row has none).
CREATE TABLE staged_rows (
    file_sha256 VARCHAR NOT NULL,
    sheet VARCHAR NOT NULL,
    row_number BIGINT NOT NULL,
    lot_key UBIGINT,
    listing_key UBIGINT,
    stock_key UBIGINT,
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

-- A digest of all that a staged row says of its own, wherever it stands; `told` is the row.
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

-- grain: one row a staged row, with the sale that it tells of; row_key is the row's own identity
CREATE TABLE record_sources (
    record_id VARCHAR NOT NULL,
    row_key VARCHAR NOT NULL,
    file_sha256 VARCHAR NOT NULL,
    sheet VARCHAR NOT NULL,
    row_number BIGINT NOT NULL
);

-- grain: one row a sale or offer, derived from staged_rows, rulings and price_flags
CREATE TABLE sales (
    record_id VARCHAR,
    venue VARCHAR,
    sale_ref VARCHAR,
    lot_ref VARCHAR,
    stock_ref VARCHAR,
    pair_key VARCHAR,
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

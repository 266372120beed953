-- views: what is derived from the ledger's tables whenever it is asked for, and what that is counted with.
-- writes: the views and macros of the ledger

-- The number by which a row is known at its venue.
CREATE OR REPLACE MACRO own_number(lot_ref, stock_ref) AS coalesce(lot_ref, 'stock ' || stock_ref);

-- The title and the notes of a record as they are searched: in small letters, without accents.
CREATE OR REPLACE MACRO folded_text(title, notes) AS strip_accents(lower(concat_ws(' ', title, notes)));

-- Whether a row in quarantine was put aside because it is no sale of one pair, and not because of an error in it.
CREATE OR REPLACE MACRO is_put_aside(field) AS field IN (
    '(not a pair)', '(several pairs)', '(undone sale)', '(part payment)'
);

-- Why a row is in quarantine; of one that undoes a sale also whether that sale is there.
CREATE OR REPLACE MACRO undone_reason(reason, field, record_key) AS CASE
    WHEN field <> '(undone sale)' THEN reason
    WHEN record_key IS NULL THEN reason || '; the sale that it would undo is not in the ledger'
    ELSE reason || '; its sale is undone by as much'
END;

-- Whether an amount pays for one or several pairs of a line of so many, at the price of one.
CREATE OR REPLACE MACRO pays_for(amount, price, pairs) AS amount = price OR (
    pairs > 1
    AND round(amount / price) BETWEEN 1 AND pairs
    AND abs(amount - round(amount / price) * price) <= 0.005 * price
);

-- A digest of all that a row says, wherever it stands; `said` is the row. Rows keep their digest for years: what a
-- later version of the ledger added counts only where it is known.
CREATE OR REPLACE MACRO content_key(said) AS md5_number_lower(concat_ws(
    chr(31)
{% for column in columns if column.source %}
    {% set text %}
        {%- if column.is_list -%}
            array_to_string(said.{{ column.name }}, chr(30))
        {%- else -%}
            CAST(said.{{ column.name }} AS VARCHAR)
        {%- endif -%}
    {% endset %}
    {% if column.since == 1 %}
    , coalesce({{ text }}, chr(29))
    {% else %}
    , '{{ column.name }} ' || nullif({{ text }}, '{{ unknown }}')
    {% endif %}
{% endfor %}
));

-- The key of the physical pair that a row or sale by itself tells: the owner's stock number; failing that, what
-- stamp, size and notes say together.
CREATE OR REPLACE MACRO own_pair_key(stock_ref, stamp_text, notes, silhouette, colourway, foot_mm) AS CASE
    WHEN stock_ref IS NOT NULL THEN left(md5('stock' || chr(31) || stock_ref), 16)
    WHEN stamp_text IS NOT NULL AND notes IS NOT NULL THEN left(md5(
        'stamp' || chr(31) || silhouette || chr(31) || colourway || chr(31) || stamp_text
        || chr(31) || foot_mm || chr(31) || lower(notes)
    ), 16)
END;

-- grain: row_id: the staged rows that were not removed, as they stand after the owner's corrections. The node stays that
-- of the row as it was read.
CREATE OR REPLACE VIEW current_rows AS
FROM staged_rows
ANTI JOIN corrected_rows ON staged_rows.row_id = corrected_rows.row_id
ANTI JOIN removed_rows ON staged_rows.row_id = removed_rows.row_id
UNION ALL BY NAME
FROM corrected_rows
ANTI JOIN removed_rows ON corrected_rows.row_id = removed_rows.row_id;

-- grain: row_id: every staged row with the sale that it records, as numbers; a removed row records one of its own
CREATE OR REPLACE VIEW row_records AS
SELECT
    staged_rows.row_id,
    staged_rows.file_sha256,
    coalesce(settled_rows.row_key, staged_rows.node) AS row_key,
    coalesce(settled_rows.record_key, staged_rows.node) AS record_key
FROM staged_rows
LEFT JOIN settled_rows ON staged_rows.row_id = settled_rows.row_id;

-- grain: file_sha256, sheet, row_number, pair_number: every current row with the sale that it records
CREATE OR REPLACE VIEW record_sources AS
SELECT
    format('{:016x}', coalesce(settled_rows.record_key, current_rows.node)) AS record_id,
    format('{:016x}', coalesce(settled_rows.row_key, current_rows.node)) AS row_key,
    current_rows.file_sha256,
    current_rows.sheet,
    current_rows.row_number,
    current_rows.pair_number
FROM current_rows
LEFT JOIN settled_rows ON current_rows.row_id = settled_rows.row_id;

{% macro every_sale() %}
WITH offers AS (
    SELECT node AS record_key, current_rows.*
    FROM current_rows
    ANTI JOIN settled_rows ON current_rows.row_id = settled_rows.row_id
    UNION ALL BY NAME
    FROM settled_sales
)
SELECT
{% for name in names %}
    {% if name == "record_id" %}
    format('{:016x}', offers.record_key) AS record_id,
    {% elif name == "pair_key" %}
    coalesce(
        pair_histories.pair_key,
        own_pair_key(stock_ref, stamp_text, notes, silhouette, colourway, foot_mm)
    ) AS pair_key,
    {% else %}
    offers.{{ name }},
    {% endif %}
{% endfor %}
FROM offers
LEFT JOIN pair_histories ON offers.record_key = pair_histories.record_key
{% endmacro %}
-- grain: record_id: every sale and offer. A sale that one row alone records is that row.
CREATE OR REPLACE VIEW sales AS
{{ every_sale() }};

-- The sale of one id, with the columns of `sales`: found by the number that the id is, since a million ids would else be
-- written out to be compared.
CREATE OR REPLACE MACRO sale_of(id) AS TABLE
{{ every_sale() }}
WHERE offers.record_key = TRY_CAST('0x' || id AS UBIGINT);

-- grain: map_name, listed_on: the stock list that counts on each day of a map: the last that was read, and not removed
CREATE OR REPLACE VIEW counting_lists AS
SELECT map_name, listed_on, file_sha256
FROM stock_lists
WHERE file_sha256 NOT IN (SELECT record_id FROM rulings WHERE kind = 'remove' AND field = 'file')
QUALIFY row_number() OVER (PARTITION BY map_name, listed_on ORDER BY reading_number DESC) = 1;

-- grain: map_name, listed_on, file_sha256, sheet, row_number: every pair of every stock list, at each day that it is of
CREATE OR REPLACE VIEW stock_listings AS
SELECT
    counting_lists.map_name,
    counting_lists.listed_on,
    source_files.file_name,
    stock_rows.file_sha256,
    stock_rows.sheet,
    stock_rows.row_number,
{% for name in names if name not in ("record_id", "pair_key") %}
    stock_rows.{{ name }},
{% endfor %}
{% for column in stock_columns %}
    stock_rows.{{ column.name }}{{ "," if not loop.last }}
{% endfor %}
FROM counting_lists
INNER JOIN source_files ON counting_lists.file_sha256 = source_files.file_sha256
INNER JOIN stock_rows ON counting_lists.file_sha256 = stock_rows.file_sha256;

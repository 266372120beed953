-- corrected_rows: keep staged rows as they stand after the owner's corrections.
-- grain: row_id
-- reads: incoming (row_id and the columns of a sale record that one row can state), staged_rows
-- writes: corrected_rows
INSERT INTO corrected_rows BY NAME
SELECT
    staged_rows.row_id,
    staged_rows.file_sha256,
    staged_rows.sheet,
    staged_rows.row_number,
    staged_rows.pair_number,
    staged_rows.node,
    folded_text(incoming.title, incoming.notes) AS folded,
{% for name in names if name not in ("record_id", "pair_key") %}
    incoming.{{ name }},
{% endfor %}
FROM incoming
INNER JOIN staged_rows ON incoming.row_id = staged_rows.row_id

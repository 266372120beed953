-- 0010_folded_text: what the records say in words, folded as it is kept, so that a search need not fold a million texts.

-- folded is the title and the notes in small letters without accents; it is that of `folded_text` in views.sql.
ALTER TABLE staged_rows ADD COLUMN folded VARCHAR;
ALTER TABLE corrected_rows ADD COLUMN folded VARCHAR;
ALTER TABLE settled_sales ADD COLUMN folded VARCHAR;
UPDATE staged_rows SET folded = strip_accents(lower(concat_ws(' ', title, notes)));
UPDATE corrected_rows SET folded = strip_accents(lower(concat_ws(' ', title, notes)));
UPDATE settled_sales SET folded = strip_accents(lower(concat_ws(' ', title, notes)));

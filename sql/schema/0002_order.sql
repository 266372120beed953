-- 0002_order: fits and rulings are numbered as they are kept, so that which is the latest does not rest on the
-- clock of the machine; those that are there are numbered by their times.

ALTER TABLE fits ADD COLUMN fit_number BIGINT;

UPDATE fits SET fit_number = numbered.fit_number
FROM (SELECT fit_id, row_number() OVER (ORDER BY fitted_at, fit_id DESC) AS fit_number FROM fits) AS numbered
WHERE fits.fit_id = numbered.fit_id;

ALTER TABLE rulings ADD COLUMN ruling_number BIGINT;

UPDATE rulings SET ruling_number = numbered.ruling_number
FROM (
    SELECT ruling_id, row_number() OVER (ORDER BY ruled_at, ruling_id) AS ruling_number FROM rulings
) AS numbered
WHERE rulings.ruling_id = numbered.ruling_id;

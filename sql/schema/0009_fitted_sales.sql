-- 0009_fitted_sales: what each fit was made of, so that a value can be compared with that of an earlier day.

-- grain: fit_number: every time that the market was fitted, also where that gave an earlier fit again. `run_id` and
-- `ruling_number` are the last run and decision before it, `settings` what of the market file decides a fit, as JSON.
CREATE TABLE fits_made (
    fit_number BIGINT NOT NULL,
    fit_id VARCHAR NOT NULL,
    fitted_at TIMESTAMP NOT NULL,
    run_id INTEGER NOT NULL,
    ruling_number BIGINT NOT NULL,
    settings VARCHAR NOT NULL
);

-- grain: record_id, first_fit: a sale as fits took it, from the fit `first_fit` on and before `until_fit` (null: it is
-- still taken so). A sale that does not change from fit to fit stands once.
CREATE TABLE fitted_sales (
    record_id VARCHAR NOT NULL,
    first_fit BIGINT NOT NULL,
    until_fit BIGINT,
    sold_on DATE NOT NULL,
    price_paid DOUBLE NOT NULL,
    silhouette VARCHAR,
    colourway VARCHAR,
    era VARCHAR,
    size_mm INTEGER,
    grade DOUBLE,
    box VARCHAR,
    tags VARCHAR,
    overlay VARCHAR,
    parts VARCHAR[],
    defects VARCHAR[],
    treatments VARCHAR[],
    venue VARCHAR,
    month INTEGER
);

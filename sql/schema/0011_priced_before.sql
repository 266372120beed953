-- 0011_priced_before: what the latest fit priced past sales at before they happened, so that an audit need not fit again.

-- grain: record_id. `origin` is the month at which the market was fitted, `period` that of the sale, both counted from
-- year 0; `error` is the actual log price less the value, `variance` that of the value, `scale` that of single prices.
CREATE TABLE priced_before (
    record_id VARCHAR NOT NULL,
    origin BIGINT NOT NULL,
    period BIGINT NOT NULL,
    error DOUBLE NOT NULL,
    variance DOUBLE NOT NULL,
    scale DOUBLE NOT NULL
);

-- 0006_kept_values: what was said of pairs and acted on, to be judged by what happened later.

-- grain: value_id: a price that was said of a pair on a day, with the band that stood with it, both in `currency`.
-- `price` is what was to be done (`price_kind`: maximum bid, asking price, …), in `price_currency`; null where only the
-- value was said. `known_until` is the day of the last sale that the fit knew: earlier sales judge nothing.
CREATE TABLE kept_values (
    value_id VARCHAR PRIMARY KEY,
    kept_at TIMESTAMP NOT NULL,
    question VARCHAR NOT NULL,
    said_on DATE NOT NULL,
    known_until DATE NOT NULL,
    fit_id VARCHAR NOT NULL,
    stock_ref VARCHAR,
    venue VARCHAR,
    sale_ref VARCHAR,
    lot_ref VARCHAR,
    pair VARCHAR NOT NULL,
    currency VARCHAR NOT NULL,
    median DOUBLE NOT NULL,
    low DOUBLE NOT NULL,
    high DOUBLE NOT NULL,
    price_kind VARCHAR,
    price DOUBLE,
    price_currency VARCHAR
);

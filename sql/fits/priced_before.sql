-- priced_before: what the latest fit priced past sales at before they happened, by month.
-- grain: record_id
-- reads: priced_before
-- columns: record_id VARCHAR, origin BIGINT, period BIGINT, error DOUBLE, variance DOUBLE, scale DOUBLE
SELECT
    record_id,
    origin,
    period,
    error,
    variance,
    scale
FROM priced_before
ORDER BY period, record_id

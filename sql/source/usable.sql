-- usable: how many records there are, and how many of them cannot be fitted.
-- grain: one row.
-- reads: records (y the response in log price, w the weight).
-- columns: records, wrong_responses, wrong_weights.
SELECT
    count(*) AS records,
    count(*) FILTER (WHERE y IS NULL OR NOT isfinite(y)) AS wrong_responses,
    count(*) FILTER (WHERE w IS NULL OR NOT isfinite(w) OR w <= 0) AS wrong_weights
FROM records

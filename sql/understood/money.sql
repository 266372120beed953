-- money: the prices of rows by currency and status, as stated and in the base currency.
-- grain: currency, status
-- reads: current_rows
-- binds: file_sha256 (NULL for all files)
-- columns: currency VARCHAR, status VARCHAR, row_count BIGINT, priced BIGINT, stated_sum DOUBLE, least DOUBLE, middle DOUBLE, greatest DOUBLE, paid_sum DOUBLE, asked BIGINT, ask_sum DOUBLE
SELECT
    currency,
    status,
    count(*) AS row_count,
    count(price_native) AS priced,
    CAST(sum(price_native) AS DOUBLE) AS stated_sum,
    CAST(min(price_native) AS DOUBLE) AS least,
    CAST(median(price_native) AS DOUBLE) AS middle,
    CAST(max(price_native) AS DOUBLE) AS greatest,
    CAST(sum(price_paid) AS DOUBLE) AS paid_sum,
    count(ask_native) AS asked,
    CAST(sum(ask_native) AS DOUBLE) AS ask_sum
FROM current_rows
WHERE $file_sha256 IS NULL OR file_sha256 = $file_sha256
GROUP BY currency, status
ORDER BY
    sum(count(*)) OVER (PARTITION BY currency) DESC,
    currency,
    list_position(['sold', 'unsold', 'withdrawn', 'open'], status)

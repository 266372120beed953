-- repeat_sales: two sales of one physical pair that follow each other.
-- grain: second_id
-- reads: sales
-- columns: pair_key VARCHAR, first_id VARCHAR, second_id VARCHAR, first_sold_on DATE, second_sold_on DATE, first_price DECIMAL(18,4), second_price DECIMAL(18,4), treatments_between VARCHAR[], grade_gain DOUBLE
-- Treatments between are those that the second sale has and the first has not; null where either is not
-- known. Sales excluded from the fit pending review are left out.
WITH sold AS (
    SELECT
        pair_key,
        record_id AS second_id,
        sold_on AS second_sold_on,
        price_paid AS second_price,
        treatments,
        grade,
        lag(record_id) OVER turn AS first_id,
        lag(sold_on) OVER turn AS first_sold_on,
        lag(price_paid) OVER turn AS first_price,
        lag(treatments) OVER turn AS treatments_before,
        lag(grade) OVER turn AS grade_before
    FROM sales
    WHERE status = 'sold' AND pair_key IS NOT NULL AND NOT held_out
    WINDOW turn AS (PARTITION BY pair_key ORDER BY sold_on, record_id)
)
SELECT
    pair_key,
    first_id,
    second_id,
    first_sold_on,
    second_sold_on,
    first_price,
    second_price,
    CASE
        WHEN treatments_before IS NOT NULL
            THEN list_filter(treatments, lambda done: NOT list_contains(treatments_before, done))
    END AS treatments_between,
    grade - grade_before AS grade_gain
FROM sold
WHERE first_sold_on < second_sold_on
ORDER BY pair_key, second_sold_on

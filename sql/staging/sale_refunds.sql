-- sale_refunds: what each reversal takes off each sale, null where that is all of it.
-- grain: record_key, reversed_on, place of the refund among those of its line
-- reads: matched_reversals
-- columns: record_key UBIGINT, amount DECIMAL(18,4)
-- Refunds of a line of several pairs pay back one pair after the other, so that they undo as many as they pay for. One
-- that does not say how much pays for as many pairs as it says, or else for all. What is over goes to the last pair. A
-- refund that two files have is one.
CREATE OR REPLACE TEMP TABLE sale_refunds AS
WITH refunds AS (
    SELECT DISTINCT record_keys, price, reversed_on, amount, pairs
    FROM matched_reversals
),
sized AS (
    SELECT
        *,
        amount IS NULL AND coalesce(pairs >= len(record_keys), TRUE) AS is_whole,
        coalesce(amount, coalesce(pairs, len(record_keys)) * price) AS paid_back
    FROM refunds
),
in_turn AS (
    SELECT
        *,
        sum(paid_back) OVER (
            PARTITION BY record_keys
            ORDER BY reversed_on, amount, pairs
            ROWS UNBOUNDED PRECEDING
        ) AS until
    FROM sized
),
of_pairs AS (
    SELECT
        unnest(record_keys) AS record_key,
        generate_subscripts(record_keys, 1) AS pair,
        len(record_keys) AS pairs,
        price,
        is_whole,
        until - paid_back AS since,
        until
    FROM in_turn
),
shares AS (
    SELECT
        record_key,
        is_whole,
        CASE WHEN pair = pairs THEN until ELSE least(until, pair * price) END - greatest(since, (pair - 1) * price) AS share
    FROM of_pairs
)
SELECT
    record_key,
    CAST(CASE WHEN NOT is_whole THEN share END AS DECIMAL(18, 4)) AS amount
FROM shares
WHERE is_whole OR share > 0

-- What:    a digest of all that a fit depends on in the sales: it changes when one of them does
-- Grain:   one row
-- Reads:   sales
-- Columns: records_digest
SELECT
    md5(concat_ws('|', count(*), sum(hash(sales)::HUGEINT), bit_xor(hash(sales)))) AS records_digest
FROM sales
WHERE status = 'sold'

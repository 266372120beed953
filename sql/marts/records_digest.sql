-- records_digest: a digest of all that a fit depends on in the sales; it changes when one of them does. One row.
-- grain: records_digest
-- reads: sales
-- columns: records_digest VARCHAR
WITH hashed AS (
    SELECT hash(
        record_id,
        held_out,
        price_paid,
        sold_on,
        venue,
        silhouette,
        colourway,
        era,
        foot_mm,
        grade,
        box,
        tags,
        overlay,
        parts,
        defects,
        treatments
    ) AS record_hash
    FROM sales
    WHERE status = 'sold'
)

SELECT md5(concat_ws('|', count(*), sum(record_hash::HUGEINT), bit_xor(record_hash))) AS records_digest
FROM hashed

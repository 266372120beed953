-- era_records: the records from which eras are learned: what is known of the era and what was seen, each pair once.
-- grain: record_id
-- reads: sales
-- binds: as_of
-- columns: record_id VARCHAR, day DATE, era VARCHAR, silhouette VARCHAR, colourway VARCHAR, factory_code VARCHAR, lasting VARCHAR, overlay VARCHAR, box VARCHAR, tags VARCHAR, grade DOUBLE
-- Offers that ended by `as_of`, sold or not. An era is the stated one, or follows from the date of the label, which is
-- itself no evidence here. Withdrawn offers are left out (a wrong era may be why), and those pending review. Of the
-- offers of one pair the first counts, so that a later one changes nothing that was learned before it.
SELECT
    record_id,
    coalesce(sold_on, closed_on) AS day,
    era,
    silhouette,
    colourway,
    factory_code,
    lasting,
    overlay,
    box,
    tags,
    grade
FROM sales
WHERE status IN ('sold', 'unsold')
  AND NOT held_out
  AND era IS NOT NULL
  AND silhouette IS NOT NULL
  AND coalesce(sold_on, closed_on) <= CAST($as_of AS DATE)
QUALIFY row_number() OVER (
    PARTITION BY coalesce(pair_key, record_id)
    ORDER BY coalesce(sold_on, closed_on), record_id
) = 1
ORDER BY record_id

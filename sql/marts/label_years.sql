-- label_years: how many records state an era in words and carry a label of a year, by both.
-- grain: era, production_year
-- reads: sales
-- binds: as_of
-- columns: era VARCHAR, production_year INTEGER, records BIGINT
-- Those pending review because the two differ are counted too: they show how often a label misleads.
SELECT
    era,
    production_year,
    count(*) AS records
FROM sales
WHERE era IS NOT NULL
  AND era_origin <> 'inferred'
  AND production_year IS NOT NULL
  AND coalesce(sold_on, closed_on) <= CAST($as_of AS DATE)
GROUP BY era, production_year
ORDER BY era, production_year

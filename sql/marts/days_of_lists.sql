-- days_of_lists: the days up to one day that stock lists are of, by their maps.
-- grain: map_name, listed_on
-- reads: counting_lists
-- binds: as_of
-- columns: map_name VARCHAR, listed_on DATE
SELECT map_name, listed_on
FROM counting_lists
WHERE listed_on <= CAST($as_of AS DATE)
ORDER BY map_name, listed_on

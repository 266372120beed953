-- settled_sales: merge the settled rows of sales that are not there yet into sales, and apply what the owner and a fit
-- have said of them.
-- grain: record_key
-- reads: current_rows, settled_rows, said_of_sales, settled_sales
-- writes: settled_sales
-- Offer and money come together from the leading row: sold before unsold, a venue's own lot before others, then an
-- order that rests on what the rows say and not on where they stand. Of an attribute the better known value
-- counts, by its origin (ORIGINS in pipeline/schema.py). Where sources differ, a flag says so. `merge` in
-- pipeline/schema.py says of each column which of these it is. A sale whose price was refunded (to 99.5 % or more) is
-- undone: its offer was withdrawn. What was refunded in part is no part of any price.
INSERT INTO settled_sales BY NAME
WITH stated AS (
    SELECT
        settled_rows.record_key,
        current_rows.*,
        row_number() OVER (
            PARTITION BY settled_rows.record_key
            ORDER BY
                list_position(['sold', 'unsold', 'withdrawn', 'open'], status),
                lot_ref IS NULL,
                content_key(current_rows)
        ) AS place
    FROM current_rows
    INNER JOIN settled_rows ON current_rows.row_id = settled_rows.row_id
    WHERE settled_rows.record_key NOT IN (SELECT record_key FROM settled_sales)
),
ranked AS (
    SELECT
        *,
        first_value(currency) OVER (PARTITION BY record_key ORDER BY place) AS lead_currency,
        {% for column in columns if column.merge == "best known" %}
        list_position({{ origins }}, {{ column.name }}_origin) * 1000000 + place AS {{ column.name }}_rank,
        {% endfor %}
        list_position({{ origins }}, size_label_origin) * 1000000 + place + CASE WHEN foot_mm IS NULL THEN 10000000 ELSE 0 END AS size_rank,
        place + CASE WHEN stamp_from IS NULL THEN 10000000 ELSE 0 END AS stamp_rank
    FROM stated
),
merged AS (
    SELECT
        record_key,
        {% for column in columns if column.merge != "whole sale" %}
            {% set name = column.name %}
            {% if column.merge == "leading row" %}
        any_value({{ name }}) FILTER (place = 1) AS {{ name }},
            {% elif column.merge == "first known" %}
        arg_min({{ name }}, place) AS {{ name }},
            {% elif column.merge == "first known in the currency" %}
        arg_min({{ name }}, place) FILTER (currency = lead_currency) AS {{ name }},
            {% else %}
                {% set rank = {"size": "size_rank", "stamp": "stamp_rank"}.get(column.merge, name ~ "_rank") %}
                {% if column.may_be_unknown %}
        coalesce(arg_min({{ name }}, {{ rank }}), '{{ unknown }}') AS {{ name }},
                {% else %}
        arg_min({{ name }}, {{ rank }}) AS {{ name }},
                {% endif %}
                {% if column.origin %}
        coalesce(arg_min({{ name }}_origin, {{ rank }}), '{{ unknown }}') AS {{ name }}_origin,
                {% endif %}
            {% endif %}
        {% endfor %}
        list_distinct(flatten(list(flags))) AS row_flags,
        list_filter(
            [
                CASE WHEN count(DISTINCT era) > 1 THEN 'era in conflict' END,
                CASE WHEN max(foot_mm) - min(foot_mm) > 5 THEN 'size conflict' END,
                CASE
                    WHEN
                        max(price_paid) > 1.005 * min(price_paid)
                        OR count(DISTINCT status) FILTER (status <> 'open') > 1
                        OR count(DISTINCT sold_on) > 1
                        THEN 'sources disagree on the sale'
                END,
                CASE
                    WHEN
                        FALSE
                        {% for column in columns if column.merge == "best known" and column.name not in ("maker", "era") %}
                            {% set value = "list_sort(" ~ column.name ~ ")" if column.is_list else column.name %}
                        OR count(DISTINCT {{ value }}) FILTER ({{ column.name }}_origin = 'stated') > 1
                        {% endfor %}
                        THEN 'sources disagree on the pair'
                END
            ],
            lambda flag: flag IS NOT NULL
        ) AS new_flags
    FROM ranked
    GROUP BY record_key
),
refunded AS (
    SELECT
        merged.*,
        CASE WHEN merged.status = 'sold' THEN coalesce(said.refunded, 0) ELSE 0 END AS refunded,
        merged.status = 'sold'
        AND (
            coalesce(said.is_undone, FALSE)
            OR coalesce(said.refunded >= 0.995 * least(merged.price_native, merged.all_in_native), FALSE)
        ) AS is_undone
    FROM merged
    LEFT JOIN said_of_sales AS said ON merged.record_key = said.record_key
),
ruled AS (
    SELECT
        merged.* EXCLUDE (row_flags, new_flags, is_undone, refunded)
        REPLACE (
            CASE WHEN merged.is_undone THEN 'withdrawn' ELSE status END AS status,
            CASE WHEN NOT merged.is_undone THEN sold_on END AS sold_on,
            CASE WHEN merged.is_undone THEN price_native ELSE price_native - merged.refunded END AS price_native,
            CASE WHEN NOT merged.is_undone THEN all_in_native - merged.refunded END AS all_in_native,
            CASE WHEN NOT merged.is_undone AND net_native > merged.refunded THEN net_native - merged.refunded END AS net_native,
            CASE
                WHEN NOT merged.is_undone AND merged.refunded = 0 THEN price_paid
                WHEN NOT merged.is_undone
                    THEN CAST(round(
                        CAST(price_paid AS DOUBLE) * CAST(all_in_native - merged.refunded AS DOUBLE)
                        / CAST(all_in_native AS DOUBLE),
                        4
                    ) AS DECIMAL(18, 4))
            END AS price_paid,
            coalesce(said.era, merged.era) AS era,
            CASE WHEN said.era IS NULL THEN era_origin ELSE 'stated' END AS era_origin
        ),
        list_sort(list_filter(
            list_distinct(flatten([
                row_flags,
                new_flags,
                coalesce(said.price_flags, []),
                CASE WHEN merged.is_undone THEN ['sale undone'] WHEN merged.refunded > 0 THEN ['part refunded'] ELSE [] END
            ])),
            lambda flag: said.era IS NULL OR flag <> 'era in conflict'
        )) AS flags,
        said.verdict
    FROM refunded AS merged
    LEFT JOIN said_of_sales AS said ON merged.record_key = said.record_key
)
SELECT
    * EXCLUDE (verdict),
    folded_text(title, notes) AS folded,
    CASE verdict
        WHEN 'accept' THEN FALSE
        WHEN 'hold' THEN TRUE
        ELSE list_has_any(flags, CAST($holding_flags AS VARCHAR[]))
    END AS held_out
FROM ruled

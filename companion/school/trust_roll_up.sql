-- What the grid exports of many schools come to: one row for each GPC, in teaching order.
--
-- Each class writes its grid with 'wordhearth class grid --csv FILE' (companion/school/grid_csv.py).
-- Put the files of each school into a folder of its own, one beside the other, and run, with DuckDB
-- (everything stays on this computer):
--
--     SET VARIABLE exports = 'exports/*/*.csv';
--     .read trust_roll_up.sql
--
-- Only the last week of each class counts. No pupil's code comes out, and a share of fewer than five
-- children with a state is left empty: it could be recognised (statistical disclosure control with
-- small numbers, common practice).
--
-- gpc            the GPC, as str(Gpc)
-- schools        schools with at least one child taught it
-- children       children taught it
-- with_a_state   of these, listed for practice or secure
-- practise       share of these that is listed for practice, 0 to 1
-- low, high      the schools' shares at the first and last tenth, schools with five and more only
-- unheard        share of the children with too little evidence for a state: a figure about the
--                homes' tools and time, never about the children
WITH by_file AS (
    SELECT
        filename,
        class_code,
        week_start,
        gpc,
        min(place) AS place,
        count(*) AS children,
        count(*) FILTER (WHERE state = 'practise') AS listed,
        count(*) FILTER (WHERE state = 'secure') AS secure
    FROM read_csv(
        getvariable('exports'),
        filename = true,
        header = true,
        delim = ',',
        quote = '"',
        auto_detect = false,
        columns = {
            'format_version': 'UTINYINT', 'class_code': 'VARCHAR', 'week_start': 'DATE',
            'pupil_code': 'VARCHAR', 'gpc': 'VARCHAR', 'place': 'USMALLINT', 'state': 'VARCHAR',
            'state_before': 'VARCHAR', 'decided_by': 'VARCHAR', 'readings': 'VARCHAR',
            'as_written': 'VARCHAR', 'slips': 'VARCHAR', 'could_not_tell': 'VARCHAR',
            'days': 'VARCHAR', 'words': 'VARCHAR', 'overruled': 'VARCHAR', 'check_day': 'VARCHAR',
            'check_words': 'VARCHAR', 'check_as_written': 'VARCHAR', 'days_practised': 'VARCHAR'
        }
    )
    WHERE format_version = 1 AND state <> 'not yet taught'
    GROUP BY filename, class_code, week_start, gpc
),
by_class AS (
    SELECT *, parse_path(filename)[-2] AS school
    FROM by_file
    QUALIFY week_start = max(week_start) OVER (PARTITION BY parse_path(filename)[-2], class_code)
),
by_school AS (
    SELECT
        school,
        gpc,
        min(place) AS place,
        sum(children) AS children,
        sum(listed) AS listed,
        sum(secure) AS secure
    FROM by_class
    GROUP BY school, gpc
)
SELECT
    gpc,
    count(*) AS schools,
    sum(children)::BIGINT AS children,
    sum(listed + secure)::BIGINT AS with_a_state,
    CASE WHEN sum(listed + secure) >= 5
        THEN round(sum(listed) / sum(listed + secure), 4) END AS practise,
    round(quantile_cont(listed / (listed + secure), 0.1)
        FILTER (WHERE listed + secure >= 5), 4) AS low,
    round(quantile_cont(listed / (listed + secure), 0.9)
        FILTER (WHERE listed + secure >= 5), 4) AS high,
    CASE WHEN sum(children) >= 5
        THEN round(1 - sum(listed + secure) / sum(children), 4) END AS unheard
FROM by_school
GROUP BY gpc
ORDER BY min(place), gpc;

-- Grain: one row per own controller, stick and seat (NULL: not known which): the time it was watched there, the same in days,
-- and the faults; on the hour clock ($is_hours) also the spells and faults whose hours are not known, which count for nothing.
-- A spell that changes seats is cut there, its hours shared out as its meter ran; a fault is where the midpoint of its bounds is.
WITH used AS (
    SELECT
        spell_no AS spell, unit_no, unit_id, stick, site, family, usage_class, is_failure, is_in_service, entered_on, ended_on, days,
        CASE WHEN $is_hours THEN hours ELSE nullif(days, 0) END AS length
    FROM seat_spell
    WHERE $is_hours OR days > 0
), piece AS (
    SELECT
        used.spell, used.unit_no, used.entered_on, used.ended_on, used.days, seat_stay.station,
        greatest(used.entered_on, seat_stay.from_day) AS piece_from, least(used.ended_on, seat_stay.to_day) AS piece_to
    FROM used
    JOIN seat_stay ON seat_stay.unit_id = used.unit_id
        AND seat_stay.from_day < used.ended_on AND seat_stay.to_day > used.entered_on
), metered AS (
    SELECT
        unit_no, day - log_end_day AS day, hours, lead(day) OVER readings - log_end_day AS next_day,
        lead(hours) OVER readings AS next_hours
    FROM reading CROSS JOIN history_setting
    WHERE doubt IS NULL AND $is_hours
    WINDOW readings AS (PARTITION BY unit_no ORDER BY day)
), turn AS (
    -- the days whose hours are asked for: of spells that are cut
    SELECT DISTINCT unit_no, unnest([entered_on, ended_on, piece_from, piece_to]) AS day
    FROM piece WHERE piece_from > entered_on OR piece_to < ended_on
), turned AS (
    SELECT
        turn.unit_no, turn.day,
        CASE
            WHEN metered.next_day IS NULL OR metered.day = turn.day THEN metered.hours
            ELSE metered.hours + (metered.next_hours - metered.hours) * (turn.day - metered.day) / (metered.next_day - metered.day)
        END AS hours
    FROM turn ASOF JOIN metered ON metered.unit_no = turn.unit_no AND metered.day <= turn.day
), shared AS (
    SELECT
        piece.spell, piece.station, piece.piece_to = piece.ended_on AS is_last,
        CASE
            WHEN piece.piece_from = piece.entered_on AND piece.piece_to = piece.ended_on THEN 1
            WHEN whole_to.hours > whole_from.hours AND piece_from.hours IS NOT NULL AND piece_to.hours IS NOT NULL
                THEN (piece_to.hours - piece_from.hours) / (whole_to.hours - whole_from.hours)
            ELSE (piece.piece_to - piece.piece_from) / greatest(piece.days, 1e-9)
        END AS share,
        (piece.piece_to - piece.piece_from) / greatest(piece.days, 1e-9) AS day_share
    FROM piece
    LEFT JOIN turned AS whole_from ON whole_from.unit_no = piece.unit_no AND whole_from.day = piece.entered_on
    LEFT JOIN turned AS whole_to ON whole_to.unit_no = piece.unit_no AND whole_to.day = piece.ended_on
    LEFT JOIN turned AS piece_from ON piece_from.unit_no = piece.unit_no AND piece_from.day = piece.piece_from
    LEFT JOIN turned AS piece_to ON piece_to.unit_no = piece.unit_no AND piece_to.day = piece.piece_to
), placed AS (
    SELECT spell, station, share, day_share, is_last FROM shared
    UNION ALL
    -- what is left of a spell was at no known seat
    SELECT
        used.spell, NULL, 1 - coalesce(sum(shared.share), 0), 1 - coalesce(sum(shared.day_share), 0),
        NOT coalesce(bool_or(shared.is_last), false)
    FROM used LEFT JOIN shared ON shared.spell = used.spell
    GROUP BY used.spell
    HAVING 1 - coalesce(sum(shared.share), 0) > 1e-9 OR NOT coalesce(bool_or(shared.is_last), false)
)
SELECT
    used.unit_id AS unit, used.site, used.family, used.usage_class, used.stick, placed.station,
    bool_or(used.is_in_service) AS is_in_service,
    sum(coalesce(used.length * greatest(placed.share, 0), 0)) AS exposure,
    sum(CASE WHEN used.length IS NOT NULL THEN used.days * greatest(placed.day_share, 0) ELSE 0 END) AS days,
    CAST(count(*) FILTER (WHERE used.length IS NOT NULL AND used.is_failure AND placed.is_last) AS BIGINT) AS failure_count,
    CAST(count(*) FILTER (WHERE used.length IS NULL AND placed.is_last) AS BIGINT) AS untold_spell_count,
    CAST(count(*) FILTER (WHERE used.length IS NULL AND used.is_failure AND placed.is_last) AS BIGINT) AS untold_failure_count
FROM placed JOIN used ON used.spell = placed.spell
GROUP BY ALL
ORDER BY unit, stick, station;

-- Grain: one row, how many stays at seats are on record, and how many overlap the next of the same controller.
SELECT count(*), count(*) FILTER (WHERE is_overlapping) FROM seat_stay;

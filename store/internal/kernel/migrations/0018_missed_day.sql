-- The booked day of a visit that passed without a record and holds it no longer.
-- Like the told week it outlives a re-plan of the same visit; another booking
-- takes it away.

-- +goose Up
ALTER TABLE visits ADD COLUMN missed_day TEXT CHECK (missed_day GLOB '[0-9][0-9][0-9][0-9]-[0-1][0-9]-[0-3][0-9]');

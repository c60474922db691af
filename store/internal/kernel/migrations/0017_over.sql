-- A booking that the desk made although the hours of its week were taken, and
-- said so: what goes over the hours without it is nobody's choice.

-- +goose Up
ALTER TABLE bookings ADD COLUMN over INTEGER NOT NULL DEFAULT 0 CHECK (over IN (0, 1));

-- Why the shop moved a booked visit, in words for its customer; '' where the
-- customer asked for it or nothing was moved.

-- +goose Up
ALTER TABLE bookings ADD COLUMN reason TEXT NOT NULL DEFAULT '';

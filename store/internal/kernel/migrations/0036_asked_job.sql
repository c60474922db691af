-- A job that a customer asks for: planned like a follow-up, on a visit of its own if
-- that is wanted, with its own minutes and its price in cents; 0 minutes stand for
-- half an hour.

-- +goose Up
ALTER TABLE follow_ups ADD COLUMN asked INTEGER NOT NULL DEFAULT 0 CHECK (asked IN (0, 1));
ALTER TABLE follow_ups ADD COLUMN alone INTEGER NOT NULL DEFAULT 0 CHECK (alone IN (0, 1));
ALTER TABLE follow_ups ADD COLUMN labour INTEGER NOT NULL DEFAULT 0 CHECK (labour >= 0);
ALTER TABLE follow_ups ADD COLUMN price INTEGER NOT NULL DEFAULT 0 CHECK (price >= 0);

-- Why a visit is penciled for its week (one of level.Reason), and the week that the
-- reason speaks of beside it, a Monday: the one that would suit best, or the one
-- that the visit had before.

-- +goose Up
ALTER TABLE visits ADD COLUMN week_why TEXT NOT NULL DEFAULT '';
ALTER TABLE visits ADD COLUMN week_from TEXT CHECK (week_from GLOB '[0-9][0-9][0-9][0-9]-[0-1][0-9]-[0-3][0-9]');

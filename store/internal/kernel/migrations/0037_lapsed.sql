-- The visits of boats that have not been in for long: few among all, and the due
-- list looks for them each time.

-- +goose Up
CREATE INDEX visits_lapsed ON visits (deadline, id) WHERE lapsed = 1;

-- The owner's figures add up years of paid work by day, boat and service: read
-- from the index alone, without the notes that lie between.

-- +goose Up
DROP INDEX records_day;
CREATE INDEX records_day ON records (day, boat_id, service, done_by, amount);

-- Nudges that came due while some were held back at random: whose lot it was to
-- hear none. What a nudge brings is told by comparing the two.
CREATE TABLE draws (
	id INTEGER PRIMARY KEY,
	customer_id TEXT NOT NULL REFERENCES customers (id),
	boat_id TEXT NOT NULL REFERENCES boats (id),
	visit_id TEXT NOT NULL,
	on_day TEXT NOT NULL CHECK (on_day GLOB '[0-9][0-9][0-9][0-9]-[0-1][0-9]-[0-3][0-9]'),
	held INTEGER NOT NULL CHECK (held IN (0, 1)),
	percent INTEGER NOT NULL CHECK (percent BETWEEN 1 AND 50)
) STRICT;
CREATE INDEX draws_customer ON draws (customer_id, visit_id);

-- What the owner's figures stand on beside the facts themselves.

-- +goose Up
-- The plan as it stood, or would have stood, on the first day of a season: what
-- was due then and how likely each visit was to come. Past plans are not kept
-- otherwise, and what was due cannot be told afterwards from what was done.
CREATE TABLE outlooks (
	asked_on TEXT NOT NULL CHECK (asked_on GLOB '[0-9][0-9][0-9][0-9]-[0-1][0-9]-[0-3][0-9]'),
	boat_id TEXT NOT NULL REFERENCES boats (id),
	visit_id TEXT NOT NULL,
	kind TEXT NOT NULL CHECK (kind IN ('lay-up', 'fit-out', 'extra')),
	season INTEGER NOT NULL DEFAULT 0,
	day TEXT NOT NULL CHECK (day GLOB '[0-9][0-9][0-9][0-9]-[0-1][0-9]-[0-3][0-9]'),
	list INTEGER NOT NULL,
	chance REAL NOT NULL CHECK (chance BETWEEN 0 AND 1),
	PRIMARY KEY (asked_on, boat_id, visit_id)
) STRICT, WITHOUT ROWID;

-- Customers whom somebody of the shop wants rung. A call to the customer, once
-- it is logged, answers the wish.
CREATE TABLE to_ring (
	customer_id TEXT NOT NULL REFERENCES customers (id),
	boat_id TEXT NOT NULL REFERENCES boats (id),
	at INTEGER NOT NULL,
	actor TEXT NOT NULL,
	why TEXT NOT NULL,
	PRIMARY KEY (customer_id, boat_id)
) STRICT, WITHOUT ROWID;

-- What customers answer on their pages, with what is needed to take it back.

-- +goose Up
CREATE TABLE answers (
	id INTEGER PRIMARY KEY,
	customer_id TEXT NOT NULL REFERENCES customers (id),
	-- '' where the answer is about the customer and not about a boat or a visit.
	boat_id TEXT NOT NULL DEFAULT '',
	visit_id TEXT NOT NULL DEFAULT '',
	kind TEXT NOT NULL CHECK (kind IN ('take', 'cancel', 'later', 'decline', 'call', 'elsewhere', 'hours', 'sold', 'mails')),
	at INTEGER NOT NULL,
	note TEXT NOT NULL DEFAULT '',
	until_day TEXT CHECK (until_day GLOB '[0-9][0-9][0-9][0-9]-[0-1][0-9]-[0-3][0-9]'),
	-- JSON: what the answer changed and what was there before.
	changed TEXT NOT NULL DEFAULT '{}',
	undone_at INTEGER,
	-- When somebody of the shop saw to it, and who.
	seen_at INTEGER,
	seen_by TEXT NOT NULL DEFAULT ''
) STRICT;
CREATE INDEX answers_customer ON answers (customer_id, id);
CREATE INDEX answers_boat ON answers (boat_id, id) WHERE boat_id <> '';
CREATE INDEX answers_open ON answers (kind, id) WHERE undone_at IS NULL AND seen_at IS NULL;

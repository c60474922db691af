-- A component that was replaced or taken off keeps its history and leaves the plan.
-- What the desk should know of a boat stands on its page until it is changed.

-- +goose Up
ALTER TABLE components ADD COLUMN retired TEXT CHECK (retired GLOB '[0-9][0-9][0-9][0-9]-[0-1][0-9]-[0-3][0-9]');
CREATE TABLE boat_notes (
	boat_id TEXT PRIMARY KEY REFERENCES boats (id),
	words TEXT NOT NULL,
	at INTEGER NOT NULL,
	actor TEXT NOT NULL
) STRICT, WITHOUT ROWID;

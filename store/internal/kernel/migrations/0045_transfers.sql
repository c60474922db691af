-- Boats that go to a sister shop, or come from one, with their owner's consent.

-- +goose Up
CREATE TABLE transfers (
	id TEXT NOT NULL, -- the same in both shops
	way TEXT NOT NULL CHECK (way IN ('out', 'in')),
	boat_id TEXT NOT NULL,
	customer_id TEXT NOT NULL,
	sister TEXT NOT NULL, -- the name of the other shop
	place TEXT NOT NULL, -- where the boat floats there
	day TEXT NOT NULL CHECK (day GLOB '[0-9][0-9][0-9][0-9]-[0-1][0-9]-[0-3][0-9]'),
	consent_by TEXT NOT NULL,
	consent_on TEXT NOT NULL CHECK (consent_on GLOB '[0-9][0-9][0-9][0-9]-[0-1][0-9]-[0-3][0-9]'),
	consent_how TEXT NOT NULL,
	actor TEXT NOT NULL,
	at INTEGER NOT NULL,
	done INTEGER NOT NULL CHECK (done IN (0, 1)), -- the other shop has it, and this one has let it go
	PRIMARY KEY (id, way)
) STRICT, WITHOUT ROWID;
CREATE INDEX transfers_boat ON transfers (boat_id);

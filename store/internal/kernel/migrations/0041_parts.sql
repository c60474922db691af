-- Parts that were ordered, came in and were used.

-- +goose Up
CREATE TABLE part_orders (
	id INTEGER PRIMARY KEY,
	code TEXT NOT NULL,
	name TEXT NOT NULL,
	unit TEXT NOT NULL,
	quantity REAL NOT NULL CHECK (quantity > 0),
	supplier TEXT NOT NULL DEFAULT '',
	cost INTEGER NOT NULL DEFAULT 0 CHECK (cost >= 0), -- cents a unit, 0 if nobody said
	ordered TEXT NOT NULL CHECK (ordered GLOB '[0-9][0-9][0-9][0-9]-[0-1][0-9]-[0-3][0-9]'),
	received TEXT CHECK (received GLOB '[0-9][0-9][0-9][0-9]-[0-1][0-9]-[0-3][0-9]')
) STRICT;
CREATE INDEX part_orders_code ON part_orders (code, unit, id);
CREATE INDEX part_orders_open ON part_orders (supplier, id) WHERE received IS NULL;

-- What a record took; its amount is the record's.
CREATE TABLE part_uses (
	id INTEGER PRIMARY KEY,
	boat_id TEXT NOT NULL REFERENCES boats (id),
	record_id TEXT NOT NULL,
	code TEXT NOT NULL,
	unit TEXT NOT NULL,
	quantity REAL NOT NULL CHECK (quantity > 0)
) STRICT;
CREATE INDEX part_uses_record ON part_uses (boat_id, record_id);
CREATE INDEX part_uses_code ON part_uses (code, unit);

-- +goose StatementBegin
CREATE TRIGGER part_uses_taken_back AFTER DELETE ON records BEGIN
	DELETE FROM part_uses WHERE boat_id = old.boat_id AND record_id = old.id;
END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER part_uses_moved AFTER UPDATE OF boat_id, id ON records BEGIN
	UPDATE part_uses SET boat_id = new.boat_id, record_id = new.id WHERE boat_id = old.boat_id AND record_id = old.id;
END;
-- +goose StatementEnd

-- How far a booked visit has come on its day, and who does it: set by a press and
-- back by a press. No fact of the boat: plans, calendars and emails do not read it.

-- +goose Up
CREATE TABLE stages (
	visit_id TEXT PRIMARY KEY,
	boat_id TEXT NOT NULL REFERENCES boats (id),
	stage TEXT NOT NULL CHECK (stage IN ('booked', 'here', 'waiting', 'ready', 'picked-up')),
	since INTEGER NOT NULL,
	technician TEXT NOT NULL DEFAULT ''
) STRICT, WITHOUT ROWID;
CREATE INDEX stages_in_yard ON stages (visit_id) WHERE stage IN ('here', 'waiting', 'ready');

-- +goose StatementBegin
CREATE TRIGGER stages_unbooked AFTER DELETE ON bookings BEGIN
	DELETE FROM stages WHERE visit_id = old.visit_id;
END;
-- +goose StatementEnd

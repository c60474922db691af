-- Who called off the booked day of a visit, as the desk says: what its customer reads
-- depends on that. Another booking takes it away.

-- +goose Up
CREATE TABLE called_off (
	visit_id TEXT PRIMARY KEY,
	boat_id TEXT NOT NULL REFERENCES boats (id),
	by_shop INTEGER NOT NULL CHECK (by_shop IN (0, 1)), -- else by the customer
	reason TEXT NOT NULL                               -- in words for the customer
) STRICT, WITHOUT ROWID;
CREATE INDEX called_off_boat ON called_off (boat_id);

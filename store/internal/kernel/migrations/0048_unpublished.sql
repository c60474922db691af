-- Boats whose plans, weeks or links changed and whose calendars are to be written: noted in
-- the change's transaction and taken off with the calendars, so that a daemon that is
-- stopped in between writes them later.

-- +goose Up
CREATE TABLE unpublished (
	boat_id TEXT PRIMARY KEY REFERENCES boats (id)
) STRICT, WITHOUT ROWID;

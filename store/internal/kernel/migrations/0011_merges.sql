-- Customers and boats that were written down twice and made one. The row of the
-- second stays, so that files that name it still find their way and the merge
-- can be undone.

-- +goose Up
CREATE TABLE merges (
	id INTEGER PRIMARY KEY,
	kind TEXT NOT NULL CHECK (kind IN ('customer', 'boat')),
	kept TEXT NOT NULL,
	gone TEXT NOT NULL,
	at INTEGER NOT NULL,
	actor TEXT NOT NULL,
	-- JSON: which rows were moved and what was there before. Ids, days and
	-- names of fields only, nothing personal.
	changed TEXT NOT NULL DEFAULT '{}',
	undone_at INTEGER,
	CHECK (kept <> gone)
) STRICT;
CREATE UNIQUE INDEX merges_gone ON merges (kind, gone) WHERE undone_at IS NULL;
CREATE INDEX merges_kept ON merges (kind, kept) WHERE undone_at IS NULL;

-- Which file a record came with, without its folder: "" for one that somebody
-- typed in, and for those of before. A file replaces only what it names by id, or
-- what it brought itself and now holds corrected.

-- +goose Up
ALTER TABLE records ADD COLUMN source TEXT NOT NULL DEFAULT '';
CREATE INDEX records_id ON records (id);
CREATE INDEX records_source ON records (source) WHERE source <> '';

-- An event as the desk's calendar shows it, where the owner of the boat reads another
-- language than the desk; NULL where the body is in the desk's.

-- +goose Up
ALTER TABLE feed_events ADD COLUMN desk BLOB;

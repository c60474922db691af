-- When the wrong passwords under a name were last forgiven: the daemon, which
-- counts them in its memory, reads it at every attempt to sign in.

-- +goose Up
ALTER TABLE staff ADD COLUMN unlocked INTEGER;

-- The brake on dead addresses for what comes back, as for what a server refuses.

-- +goose Up
-- Of a letter that came back as dead: the desk has said whether its address is.
ALTER TABLE returned ADD COLUMN judged INTEGER NOT NULL DEFAULT 0 CHECK (judged IN (0, 1));

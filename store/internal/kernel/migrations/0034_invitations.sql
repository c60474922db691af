-- Appointments that were told to customers' calendars by email, and who follows a
-- calendar of ours.

-- +goose Up
-- One calendar object as it went out with a letter. Of one uid the newest whose letter
-- was not taken back says what the reader's calendar holds; no sequence is used twice.
CREATE TABLE invitations (
	letter_id INTEGER PRIMARY KEY REFERENCES outbox (id),
	uid TEXT NOT NULL,
	customer_id TEXT NOT NULL,
	address TEXT NOT NULL,           -- that it was sent to, lower case
	day TEXT NOT NULL,
	starts INTEGER NOT NULL,
	ends INTEGER NOT NULL CHECK (ends > starts),
	visits TEXT NOT NULL,            -- ids, a line each, rising
	sequence INTEGER NOT NULL CHECK (sequence >= 0),
	stamp INTEGER NOT NULL,          -- DTSTAMP
	cancelled INTEGER NOT NULL CHECK (cancelled IN (0, 1))
) STRICT;
CREATE INDEX invitations_uid ON invitations (uid, letter_id);
CREATE INDEX invitations_customer ON invitations (customer_id, letter_id);

-- When a calendar program last asked for a feed under its present address.
CREATE TABLE feed_fetches (
	scope TEXT NOT NULL CHECK (scope IN ('boat', 'customer', 'desk')),
	subject TEXT NOT NULL,
	day TEXT NOT NULL,
	PRIMARY KEY (scope, subject)
) STRICT, WITHOUT ROWID;

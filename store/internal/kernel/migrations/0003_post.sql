-- What leaves the house: letters, who has heard what, calendar feeds.

-- +goose Up
-- One row a mail to one address; raw is fixed when it is queued. The dedupe
-- key is taken once, for ever.
CREATE TABLE outbox (
	id INTEGER PRIMARY KEY,
	key TEXT NOT NULL UNIQUE,
	customer_id TEXT NOT NULL DEFAULT '',
	to_address TEXT NOT NULL,
	from_address TEXT NOT NULL,
	step TEXT NOT NULL,
	subjects TEXT NOT NULL DEFAULT '',
	message_id TEXT NOT NULL,
	subject TEXT NOT NULL DEFAULT '',
	raw BLOB NOT NULL,
	state TEXT NOT NULL CHECK (state IN ('queued', 'leased', 'sent', 'uncertain', 'deferred', 'refused', 'expired', 'held')),
	attempts INTEGER NOT NULL DEFAULT 0,
	-- How often it was leased; makes each lease's token a new one.
	claims INTEGER NOT NULL DEFAULT 0,
	next_at INTEGER NOT NULL,
	not_after INTEGER,
	queued_at INTEGER NOT NULL,
	lease_token TEXT,
	lease_until INTEGER,
	dot_at INTEGER,
	done_at INTEGER,
	code INTEGER NOT NULL DEFAULT 0,
	enhanced TEXT NOT NULL DEFAULT '',
	answer TEXT NOT NULL DEFAULT '',
	-- An uncertain letter keeps its token, in case the answer still comes.
	CHECK (state = 'uncertain' OR (state = 'leased') = (lease_token IS NOT NULL)),
	CHECK ((state = 'leased') = (lease_until IS NOT NULL))
) STRICT;
CREATE INDEX outbox_waiting ON outbox (next_at, id) WHERE state IN ('queued', 'deferred');
CREATE INDEX outbox_leased ON outbox (lease_until) WHERE state = 'leased';
CREATE INDEX outbox_state ON outbox (state, id);
CREATE INDEX outbox_customer ON outbox (customer_id, id);
CREATE INDEX outbox_queued ON outbox (queued_at);
CREATE INDEX outbox_dot ON outbox (dot_at) WHERE dot_at IS NOT NULL;

CREATE TABLE heard (
	customer_id TEXT NOT NULL REFERENCES customers (id),
	subject TEXT NOT NULL,
	step TEXT NOT NULL,
	on_day TEXT NOT NULL CHECK (on_day GLOB '[0-9][0-9][0-9][0-9]-[0-1][0-9]-[0-3][0-9]'),
	week TEXT CHECK (week GLOB '[0-9][0-9][0-9][0-9]-[0-1][0-9]-[0-3][0-9]'),
	PRIMARY KEY (customer_id, subject, step, on_day)
) STRICT, WITHOUT ROWID;
CREATE INDEX heard_subject ON heard (subject, on_day);

-- Addresses that do not work, in lower case.
CREATE TABLE suppressions (
	address TEXT PRIMARY KEY,
	reason TEXT NOT NULL,
	since INTEGER NOT NULL
) STRICT, WITHOUT ROWID;

CREATE TABLE opt_outs (
	customer_id TEXT PRIMARY KEY REFERENCES customers (id),
	no_reminders INTEGER NOT NULL CHECK (no_reminders IN (0, 1)),
	no_mail INTEGER NOT NULL CHECK (no_mail IN (0, 1)),
	since INTEGER NOT NULL
) STRICT, WITHOUT ROWID;

-- Whether mail goes out at all. It starts switched off.
CREATE TABLE sending (
	one INTEGER PRIMARY KEY CHECK (one = 1),
	switched_on INTEGER NOT NULL DEFAULT 0 CHECK (switched_on IN (0, 1)),
	since INTEGER,
	held TEXT NOT NULL DEFAULT '',
	paused TEXT NOT NULL DEFAULT ''
) STRICT;
INSERT INTO sending (one) VALUES (1);

-- A feed's address carries its generation; revoking it raises the number.
-- subject is a boat's or customer's id, '' for the desk.
CREATE TABLE feeds (
	scope TEXT NOT NULL CHECK (scope IN ('boat', 'customer', 'desk')),
	subject TEXT NOT NULL,
	generation INTEGER NOT NULL DEFAULT 1,
	changed_at INTEGER NOT NULL,
	PRIMARY KEY (scope, subject)
) STRICT, WITHOUT ROWID;

-- A calendar event as it was last written. One that left the plan keeps its
-- sequence, in case it comes back.
CREATE TABLE feed_events (
	boat_id TEXT NOT NULL REFERENCES boats (id),
	uid TEXT NOT NULL UNIQUE,
	hash TEXT NOT NULL,
	sequence INTEGER NOT NULL,
	changed_at INTEGER NOT NULL,
	start_day TEXT NOT NULL CHECK (start_day GLOB '[0-9][0-9][0-9][0-9]-[0-1][0-9]-[0-3][0-9]'),
	live INTEGER NOT NULL CHECK (live IN (0, 1)),
	body BLOB NOT NULL,
	PRIMARY KEY (boat_id, uid)
) STRICT, WITHOUT ROWID;
CREATE INDEX feed_events_start ON feed_events (start_day, uid) WHERE live = 1;

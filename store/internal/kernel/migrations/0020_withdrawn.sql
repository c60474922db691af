-- A letter that waits is looked at again before its first attempt, and what was
-- withdrawn or expired before anybody had it was not heard.

-- +goose Up
-- "withdrawn" is a state of its own: it went to no server and may be decided
-- again. names is JSON, a list of pairs: a visit's id and how it stood when the
-- letter was written ('' for the customer), see schedule.Visit.Standing.
CREATE TABLE outbox_new (
	id INTEGER PRIMARY KEY,
	key TEXT NOT NULL UNIQUE,
	customer_id TEXT NOT NULL DEFAULT '',
	to_address TEXT NOT NULL,
	from_address TEXT NOT NULL,
	step TEXT NOT NULL,
	subjects TEXT NOT NULL DEFAULT '',
	names TEXT NOT NULL DEFAULT '',
	message_id TEXT NOT NULL,
	subject TEXT NOT NULL DEFAULT '',
	state TEXT NOT NULL CHECK (state IN ('queued', 'leased', 'sent', 'uncertain', 'deferred', 'refused', 'expired', 'held', 'withdrawn')),
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
INSERT INTO outbox_new (id, key, customer_id, to_address, from_address, step, subjects, message_id, subject, state, attempts, claims,
		next_at, not_after, queued_at, lease_token, lease_until, dot_at, done_at, code, enhanced, answer)
	SELECT id, key, customer_id, to_address, from_address, step, subjects, message_id, subject, state, attempts, claims,
		next_at, not_after, queued_at, lease_token, lease_until, dot_at, done_at, code, enhanced, answer FROM outbox;
DROP TABLE outbox;
ALTER TABLE outbox_new RENAME TO outbox;
CREATE INDEX outbox_waiting ON outbox (next_at, id) WHERE state IN ('queued', 'deferred');
CREATE INDEX outbox_state ON outbox (state, id);
CREATE INDEX outbox_customer ON outbox (customer_id, id);
CREATE INDEX outbox_queued ON outbox (queued_at);
CREATE INDEX outbox_dot ON outbox (dot_at) WHERE dot_at IS NOT NULL;
CREATE INDEX outbox_message ON outbox (message_id);

-- The letter by which something is heard, NULL for what was told without one.
ALTER TABLE heard ADD COLUMN letter_id INTEGER REFERENCES outbox (id);
CREATE INDEX heard_letter ON heard (letter_id) WHERE letter_id IS NOT NULL;
-- What waits now may still be withdrawn.
UPDATE heard SET letter_id = (SELECT o.id FROM outbox o WHERE o.customer_id = heard.customer_id
	AND o.state IN ('queued', 'leased', 'deferred', 'held')
	AND instr(char(10) || o.subjects || char(10), char(10) || heard.subject || char(10)) > 0
	AND heard.on_day >= date(o.queued_at, 'unixepoch', '-1 day') ORDER BY o.id DESC LIMIT 1)
WHERE customer_id IN (SELECT customer_id FROM outbox WHERE state IN ('queued', 'leased', 'deferred', 'held'));

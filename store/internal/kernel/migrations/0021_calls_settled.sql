-- A call may settle what a customer asked for without a word about a visit. A
-- request for a call is open until somebody sees to it, by such a call or by
-- hand: calls of before are written down with the requests that they settled.

-- +goose Up
CREATE TABLE calls_new (
	id INTEGER PRIMARY KEY,
	at INTEGER NOT NULL,
	actor TEXT NOT NULL,
	customer_id TEXT NOT NULL REFERENCES customers (id),
	boat_id TEXT NOT NULL DEFAULT '',
	visit_id TEXT NOT NULL DEFAULT '',
	outcome TEXT NOT NULL CHECK (outcome IN ('no-answer', 'message', 'rings-back', 'thinks', 'declined', 'booked', 'settled')),
	note TEXT NOT NULL DEFAULT ''
) STRICT;
INSERT INTO calls_new SELECT id, at, actor, customer_id, boat_id, visit_id, outcome, note FROM calls;
DROP TABLE calls;
ALTER TABLE calls_new RENAME TO calls;
CREATE INDEX calls_customer ON calls (customer_id, id);
CREATE INDEX calls_boat ON calls (boat_id, id) WHERE boat_id <> '';

UPDATE answers SET (seen_at, seen_by) = (SELECT l.at, l.actor FROM calls l WHERE l.customer_id = answers.customer_id
		AND l.at >= answers.at AND l.outcome IN ('thinks', 'declined', 'booked') ORDER BY l.id LIMIT 1)
	WHERE kind = 'call' AND seen_at IS NULL AND EXISTS (SELECT 1 FROM calls l WHERE l.customer_id = answers.customer_id
		AND l.at >= answers.at AND l.outcome IN ('thinks', 'declined', 'booked'));

-- The brakes of the sender: what a mail server says of many addresses at once is
-- held until it is believed, and a queue paused for want of answers tries again.

-- +goose Up
-- Of a letter that was refused because its address is dead: 'held' until the
-- drain ends, 'doubted' until the desk has said what it was, '' otherwise.
ALTER TABLE outbox ADD COLUMN verdict TEXT NOT NULL DEFAULT '' CHECK (verdict IN ('', 'held', 'doubted'));
CREATE INDEX outbox_verdict ON outbox (verdict, id) WHERE verdict <> '';
-- When one letter tries whether a paused queue may go on, NULL if it waits for a
-- person.
ALTER TABLE sending ADD COLUMN probe_at INTEGER;

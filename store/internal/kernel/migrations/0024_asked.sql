-- The lay-ups of which the desk is to ask whether they were done: few among all
-- due items, and the call list looks for them each time.

-- +goose Up
CREATE INDEX due_items_asked ON due_items (boat_id) WHERE basis = 'ask';

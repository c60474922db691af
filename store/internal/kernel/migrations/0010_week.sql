-- What falls due in a week, read from the index alone.

-- +goose Up
CREATE INDEX due_items_visit ON due_items (due, visit_id, basis);

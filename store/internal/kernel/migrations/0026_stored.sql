-- What is due in storage: the week counts its boats each time it is shown.

-- +goose Up
CREATE INDEX due_items_stored ON due_items (due, boat_id) WHERE basis = 'stored';

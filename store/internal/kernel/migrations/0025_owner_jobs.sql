-- What owners do themselves is no visit, and stands on the due list all the same:
-- few among all due items, and the list looks for them each time.

-- +goose Up
CREATE INDEX due_items_owner ON due_items (due, boat_id, rule) WHERE by_customer = 1 AND visit_id = '';

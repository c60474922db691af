-- Whether a visit is kept in a week because its customer wishes to be asked later: that
-- holds only while the week is in time, what the desk chose holds in any case. Of the
-- weeks kept so far, those are the customers' whose boat's last choice was theirs.

-- +goose Up
ALTER TABLE pins ADD COLUMN by_customer INTEGER NOT NULL DEFAULT 0 CHECK (by_customer IN (0, 1));
UPDATE pins SET by_customer = 1
WHERE EXISTS (SELECT 1 FROM answers a WHERE a.visit_id = pins.visit_id AND a.kind = 'later' AND a.undone_at IS NULL)
AND (SELECT u.actor FROM audit u WHERE u.boat_id = pins.boat_id AND u.boat_id <> '' AND u.what = 'choose a week' ORDER BY u.id DESC LIMIT 1) = 'customer';

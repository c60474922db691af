-- The week's list reads what is pencilled for a week in order of deadline, some
-- at a time: from the index alone, without sorting a whole week.

-- +goose Up
CREATE INDEX visits_week_deadline ON visits (week, deadline, id) WHERE week IS NOT NULL;

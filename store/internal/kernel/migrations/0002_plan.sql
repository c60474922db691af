-- The derived plan: rows made by the planner and replaced by it. Only the
-- pencilled week and whom it was told to outlive a re-plan of the same visit.

-- +goose Up
-- One row a planned boat; hash is of everything the planner said about it.
CREATE TABLE plans (
	boat_id TEXT PRIMARY KEY REFERENCES boats (id),
	hash BLOB NOT NULL,
	planned_at INTEGER NOT NULL,
	problems TEXT NOT NULL DEFAULT ''
) STRICT, WITHOUT ROWID;

CREATE TABLE visits (
	boat_id TEXT NOT NULL REFERENCES boats (id),
	id TEXT NOT NULL UNIQUE,
	kind TEXT NOT NULL CHECK (kind IN ('lay-up', 'fit-out', 'extra')),
	season INTEGER NOT NULL DEFAULT 0,
	open_day TEXT CHECK (open_day GLOB '[0-9][0-9][0-9][0-9]-[0-1][0-9]-[0-3][0-9]'),
	close_day TEXT CHECK (close_day GLOB '[0-9][0-9][0-9][0-9]-[0-1][0-9]-[0-3][0-9]'),
	day TEXT CHECK (day GLOB '[0-9][0-9][0-9][0-9]-[0-1][0-9]-[0-3][0-9]'),
	deadline TEXT CHECK (deadline GLOB '[0-9][0-9][0-9][0-9]-[0-1][0-9]-[0-3][0-9]'),
	labour INTEGER NOT NULL DEFAULT 0,
	price INTEGER NOT NULL DEFAULT 0,
	priority INTEGER NOT NULL DEFAULT 0,
	items TEXT NOT NULL DEFAULT '',
	-- Mondays: of the pencilled week, and of the week that a customer was told.
	week TEXT CHECK (week GLOB '[0-9][0-9][0-9][0-9]-[0-1][0-9]-[0-3][0-9]'),
	told_week TEXT CHECK (told_week GLOB '[0-9][0-9][0-9][0-9]-[0-1][0-9]-[0-3][0-9]'),
	-- The boat has not been in for long: the visit takes no hours until booked.
	lapsed INTEGER NOT NULL DEFAULT 0 CHECK (lapsed IN (0, 1)),
	-- After this day the visit makes no sense even late, NULL for never.
	last_day TEXT CHECK (last_day GLOB '[0-9][0-9][0-9][0-9]-[0-1][0-9]-[0-3][0-9]'),
	PRIMARY KEY (boat_id, id)
) STRICT, WITHOUT ROWID;
CREATE INDEX visits_week ON visits (week, id) WHERE week IS NOT NULL;
CREATE INDEX visits_day ON visits (day, id);

CREATE TABLE due_items (
	boat_id TEXT NOT NULL REFERENCES boats (id),
	key TEXT NOT NULL,
	component_id TEXT NOT NULL,
	rule TEXT NOT NULL,
	service TEXT NOT NULL,
	season INTEGER NOT NULL DEFAULT 0,
	due TEXT CHECK (due GLOB '[0-9][0-9][0-9][0-9]-[0-1][0-9]-[0-3][0-9]'),
	open_day TEXT CHECK (open_day GLOB '[0-9][0-9][0-9][0-9]-[0-1][0-9]-[0-3][0-9]'),
	close_day TEXT CHECK (close_day GLOB '[0-9][0-9][0-9][0-9]-[0-1][0-9]-[0-3][0-9]'),
	basis TEXT NOT NULL,
	last_day TEXT CHECK (last_day GLOB '[0-9][0-9][0-9][0-9]-[0-1][0-9]-[0-3][0-9]'),
	last_by TEXT NOT NULL DEFAULT '',
	last_via TEXT NOT NULL DEFAULT '',
	last_hours INTEGER,
	starts_from TEXT NOT NULL DEFAULT '',
	months INTEGER NOT NULL DEFAULT 0,
	hours INTEGER NOT NULL DEFAULT 0,
	by_date TEXT CHECK (by_date GLOB '[0-9][0-9][0-9][0-9]-[0-1][0-9]-[0-3][0-9]'),
	by_hours TEXT CHECK (by_hours GLOB '[0-9][0-9][0-9][0-9]-[0-1][0-9]-[0-3][0-9]'),
	hours_median TEXT CHECK (hours_median GLOB '[0-9][0-9][0-9][0-9]-[0-1][0-9]-[0-3][0-9]'),
	hours_late TEXT CHECK (hours_late GLOB '[0-9][0-9][0-9][0-9]-[0-1][0-9]-[0-3][0-9]'),
	hours_at INTEGER NOT NULL DEFAULT 0,
	duty INTEGER NOT NULL DEFAULT 0,
	overridden TEXT NOT NULL DEFAULT '',
	by_customer INTEGER NOT NULL DEFAULT 0,
	in_winter INTEGER NOT NULL DEFAULT 0,
	missed_last INTEGER NOT NULL DEFAULT 0,
	covered_by TEXT NOT NULL DEFAULT '',
	labour INTEGER NOT NULL DEFAULT 0,
	price INTEGER NOT NULL DEFAULT 0,
	visit_id TEXT NOT NULL DEFAULT '',
	PRIMARY KEY (boat_id, key)
) STRICT, WITHOUT ROWID;
-- The desk reads by due day; boat and key come along as the clustered key.
CREATE INDEX due_items_due ON due_items (due, boat_id, key);

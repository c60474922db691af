-- The freeze days of a place as they were worked out from a weather file, so
-- that its lay-up deadline can be explained long after the file is gone.

-- +goose Up
CREATE TABLE place_climates (
	place TEXT PRIMARY KEY,
	percentile INTEGER NOT NULL CHECK (percentile BETWEEN 1 AND 99),
	-- MM-DD by which boats must be laid up; '' where it seldom freezes.
	lay_up TEXT NOT NULL CHECK (lay_up = '' OR lay_up GLOB '[0-1][0-9]-[0-3][0-9]'),
	-- Station, threshold, autumns used and left out, percentiles: JSON.
	freeze TEXT NOT NULL,
	file TEXT NOT NULL DEFAULT '',
	loaded_at INTEGER NOT NULL
) STRICT, WITHOUT ROWID;

-- The freeze watch: the newest forecast of each place, what was said of each
-- night before it came, the freezes that raised an alarm, and what the place's
-- station recorded.

-- +goose Up
CREATE TABLE forecasts (
	place TEXT PRIMARY KEY,
	source TEXT NOT NULL,           -- the setting that it was read from
	forecast TEXT,                  -- JSON; NULL until one came
	fetched_at INTEGER,             -- last answer, an unchanged one too
	last_modified TEXT NOT NULL DEFAULT '',
	next_at INTEGER,                -- not to be asked before
	failures INTEGER NOT NULL DEFAULT 0,
	fault TEXT NOT NULL DEFAULT '', -- what went wrong last, '' for nothing
	judged INTEGER                  -- when the forecast that was judged last was issued
) STRICT, WITHOUT ROWID;

CREATE TABLE freeze_nights (
	place TEXT NOT NULL,
	night TEXT NOT NULL,            -- the day on which it ends
	issued INTEGER NOT NULL,        -- of the last forecast before it
	lead INTEGER NOT NULL,
	low REAL NOT NULL,              -- °C at the yard
	hours REAL NOT NULL,            -- at or below the alarm's threshold
	chance REAL NOT NULL,
	level INTEGER NOT NULL CHECK (level BETWEEN 0 AND 2),
	PRIMARY KEY (place, night)
) STRICT, WITHOUT ROWID;

CREATE TABLE freezes (
	id INTEGER PRIMARY KEY,
	place TEXT NOT NULL,
	first_night TEXT NOT NULL,
	last_night TEXT NOT NULL,
	low INTEGER NOT NULL,           -- tenths of °C at the yard, the lowest that was forecast
	chance REAL NOT NULL,           -- the highest
	raised_at INTEGER NOT NULL,
	brings TEXT,                    -- the night before which deadlines lie now; NULL where nothing is leveled
	calm INTEGER NOT NULL DEFAULT 0, -- forecasts in a row above the level
	ended_at INTEGER,
	ended TEXT NOT NULL DEFAULT '' CHECK (ended IN ('', 'relented', 'passed'))
) STRICT;
CREATE INDEX freezes_place ON freezes (place, last_night);

CREATE TABLE station_lows (
	place TEXT NOT NULL,
	day TEXT NOT NULL,
	tenths INTEGER NOT NULL,
	PRIMARY KEY (place, day)
) STRICT, WITHOUT ROWID;

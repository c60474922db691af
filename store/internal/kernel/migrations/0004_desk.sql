-- The service desk: who may sign in, calls, measurements, shop weeks by hand.

-- +goose Up
CREATE TABLE staff (
	name TEXT PRIMARY KEY COLLATE NOCASE,
	role TEXT NOT NULL CHECK (role IN ('technician', 'desk', 'owner')),
	-- Argon2id in its usual text form, with its own salt and cost.
	hash TEXT NOT NULL,
	since INTEGER NOT NULL
) STRICT, WITHOUT ROWID;

-- The browser holds the token, the file only its SHA-256: a stolen file opens
-- nothing.
CREATE TABLE sessions (
	hash BLOB PRIMARY KEY,
	staff TEXT NOT NULL COLLATE NOCASE REFERENCES staff (name) ON DELETE CASCADE,
	begun INTEGER NOT NULL,
	until INTEGER NOT NULL
) STRICT, WITHOUT ROWID;
CREATE INDEX sessions_staff ON sessions (staff);

-- What came of ringing a customer; visit_id '' if it was about nothing planned.
CREATE TABLE calls (
	id INTEGER PRIMARY KEY,
	at INTEGER NOT NULL,
	actor TEXT NOT NULL,
	customer_id TEXT NOT NULL REFERENCES customers (id),
	boat_id TEXT NOT NULL DEFAULT '',
	visit_id TEXT NOT NULL DEFAULT '',
	outcome TEXT NOT NULL CHECK (outcome IN ('no-answer', 'message', 'rings-back', 'thinks', 'declined', 'booked')),
	note TEXT NOT NULL DEFAULT ''
) STRICT;
CREATE INDEX calls_customer ON calls (customer_id, id);
CREATE INDEX calls_boat ON calls (boat_id, id) WHERE boat_id <> '';

-- What a customer said about a visit, for the technician's sheet.
CREATE TABLE said (
	id INTEGER PRIMARY KEY,
	at INTEGER NOT NULL,
	actor TEXT NOT NULL,
	boat_id TEXT NOT NULL REFERENCES boats (id),
	visit_id TEXT NOT NULL,
	words TEXT NOT NULL
) STRICT;
CREATE INDEX said_visit ON said (boat_id, visit_id, id);

-- A shop week that the desk has chosen for a visit itself.
CREATE TABLE pins (
	visit_id TEXT PRIMARY KEY,
	boat_id TEXT NOT NULL REFERENCES boats (id),
	week TEXT NOT NULL CHECK (week GLOB '[0-9][0-9][0-9][0-9]-[0-1][0-9]-[0-3][0-9]')
) STRICT, WITHOUT ROWID;

CREATE TABLE absences (
	id INTEGER PRIMARY KEY,
	technician TEXT NOT NULL,
	from_day TEXT NOT NULL CHECK (from_day GLOB '[0-9][0-9][0-9][0-9]-[0-1][0-9]-[0-3][0-9]'),
	to_day TEXT NOT NULL CHECK (to_day GLOB '[0-9][0-9][0-9][0-9]-[0-1][0-9]-[0-3][0-9]'),
	why TEXT NOT NULL DEFAULT '',
	CHECK (from_day <= to_day)
) STRICT;

CREATE TABLE closed_days (
	day TEXT PRIMARY KEY CHECK (day GLOB '[0-9][0-9][0-9][0-9]-[0-1][0-9]-[0-3][0-9]'),
	why TEXT NOT NULL DEFAULT ''
) STRICT, WITHOUT ROWID;

-- What was measured: figures is a list of numbers in the unit of the kind
-- (psi for compression, volts for a battery), words what was seen.
CREATE TABLE measurements (
	id INTEGER PRIMARY KEY,
	boat_id TEXT NOT NULL REFERENCES boats (id),
	component_id TEXT NOT NULL,
	day TEXT NOT NULL CHECK (day GLOB '[0-9][0-9][0-9][0-9]-[0-1][0-9]-[0-3][0-9]'),
	kind TEXT NOT NULL CHECK (kind IN ('compression', 'gear-lube', 'battery')),
	figures TEXT NOT NULL DEFAULT '',
	rule TEXT NOT NULL DEFAULT '',
	words TEXT NOT NULL DEFAULT ''
) STRICT;
CREATE INDEX measurements_boat ON measurements (boat_id, day);

-- The week's due list reads these, by key.
CREATE INDEX visits_deadline ON visits (deadline, id);
CREATE INDEX visits_told ON visits (told_week, id) WHERE told_week IS NOT NULL;

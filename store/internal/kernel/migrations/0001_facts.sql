-- The facts: who owns what, what it is made of, what was done and read.
-- Days are text YYYY-MM-DD, instants whole seconds since 1970, money cents,
-- meter hours tenths. Tables that a plan reads are clustered by boat, so that
-- a whole fleet is read in the order in which it lies on the disk.

-- +goose Up
PRAGMA application_id = 0x42427579;

CREATE TABLE customers (
	id TEXT PRIMARY KEY,
	name TEXT NOT NULL,
	email TEXT NOT NULL DEFAULT '',
	phone TEXT NOT NULL DEFAULT '',
	address TEXT NOT NULL DEFAULT '',
	city TEXT NOT NULL DEFAULT '',
	region TEXT NOT NULL DEFAULT '',
	postal_code TEXT NOT NULL DEFAULT '',
	contact_by TEXT NOT NULL CHECK (contact_by IN ('email', 'phone', 'none')),
	-- What a search looks through: folded name, id and address, digits of the phone.
	search TEXT NOT NULL DEFAULT ''
) STRICT, WITHOUT ROWID;
CREATE INDEX customers_search ON customers (search);
CREATE INDEX customers_email ON customers (email COLLATE NOCASE) WHERE email <> '';

CREATE TABLE boats (
	id TEXT PRIMARY KEY,
	hin TEXT NOT NULL DEFAULT '',
	name TEXT NOT NULL DEFAULT '',
	make TEXT NOT NULL DEFAULT '',
	model TEXT NOT NULL DEFAULT '',
	year INTEGER NOT NULL DEFAULT 0,
	kind TEXT NOT NULL,
	length_ft REAL NOT NULL DEFAULT 0,
	water TEXT NOT NULL,
	place TEXT NOT NULL,
	berth TEXT NOT NULL,
	sold_on TEXT CHECK (sold_on GLOB '[0-9][0-9][0-9][0-9]-[0-1][0-9]-[0-3][0-9]'),
	warranty_until TEXT CHECK (warranty_until GLOB '[0-9][0-9][0-9][0-9]-[0-1][0-9]-[0-3][0-9]'),
	gone TEXT CHECK (gone GLOB '[0-9][0-9][0-9][0-9]-[0-1][0-9]-[0-3][0-9]'),
	search TEXT NOT NULL DEFAULT ''
) STRICT, WITHOUT ROWID;
CREATE INDEX boats_search ON boats (search);
CREATE INDEX boats_hin ON boats (hin) WHERE hin <> '';

-- One hull, its owners in order. The owner without a last day is the present one.
CREATE TABLE ownerships (
	boat_id TEXT NOT NULL REFERENCES boats (id),
	seq INTEGER NOT NULL,
	customer_id TEXT NOT NULL REFERENCES customers (id),
	from_day TEXT CHECK (from_day GLOB '[0-9][0-9][0-9][0-9]-[0-1][0-9]-[0-3][0-9]'),
	to_day TEXT CHECK (to_day GLOB '[0-9][0-9][0-9][0-9]-[0-1][0-9]-[0-3][0-9]'),
	PRIMARY KEY (boat_id, seq),
	CHECK (to_day IS NULL OR from_day IS NULL OR from_day <= to_day)
) STRICT, WITHOUT ROWID;
CREATE UNIQUE INDEX ownerships_one_current ON ownerships (boat_id) WHERE to_day IS NULL;
CREATE INDEX ownerships_customer ON ownerships (customer_id, to_day);

CREATE TABLE components (
	boat_id TEXT NOT NULL REFERENCES boats (id),
	id TEXT NOT NULL UNIQUE,
	kind TEXT NOT NULL,
	label TEXT NOT NULL DEFAULT '',
	in_service TEXT CHECK (in_service GLOB '[0-9][0-9][0-9][0-9]-[0-1][0-9]-[0-3][0-9]'),
	expires TEXT CHECK (expires GLOB '[0-9][0-9][0-9][0-9]-[0-1][0-9]-[0-3][0-9]'),
	made TEXT CHECK (made GLOB '[0-9][0-9][0-9][0-9]-[0-1][0-9]-[0-3][0-9]'),
	propulsion TEXT NOT NULL DEFAULT '',
	stroke TEXT NOT NULL DEFAULT '',
	fuel TEXT NOT NULL DEFAULT '',
	cooling TEXT NOT NULL DEFAULT '',
	family TEXT NOT NULL DEFAULT '',
	extra TEXT NOT NULL DEFAULT '',
	duty INTEGER NOT NULL DEFAULT 100 CHECK (duty BETWEEN 1 AND 1000),
	PRIMARY KEY (boat_id, id)
) STRICT, WITHOUT ROWID;

-- component_id is '' for work on the whole boat and the boat's id for its hull.
CREATE TABLE records (
	boat_id TEXT NOT NULL REFERENCES boats (id),
	day TEXT NOT NULL CHECK (day GLOB '[0-9][0-9][0-9][0-9]-[0-1][0-9]-[0-3][0-9]'),
	id TEXT NOT NULL,
	component_id TEXT NOT NULL DEFAULT '',
	service TEXT NOT NULL,
	hours INTEGER CHECK (hours >= 0),
	amount INTEGER NOT NULL DEFAULT 0,
	done_by TEXT NOT NULL CHECK (done_by IN ('shop', 'elsewhere', 'before-sale')),
	note TEXT NOT NULL DEFAULT '',
	PRIMARY KEY (boat_id, day, id)
) STRICT, WITHOUT ROWID;
CREATE INDEX records_day ON records (day, boat_id);

CREATE TABLE readings (
	boat_id TEXT NOT NULL,
	component_id TEXT NOT NULL,
	day TEXT NOT NULL CHECK (day GLOB '[0-9][0-9][0-9][0-9]-[0-1][0-9]-[0-3][0-9]'),
	new_meter INTEGER NOT NULL DEFAULT 0 CHECK (new_meter IN (0, 1)),
	hours INTEGER NOT NULL CHECK (hours >= 0),
	read_by TEXT NOT NULL DEFAULT '',
	PRIMARY KEY (boat_id, component_id, day, new_meter, hours),
	FOREIGN KEY (boat_id, component_id) REFERENCES components (boat_id, id)
) STRICT, WITHOUT ROWID;

CREATE TABLE follow_ups (
	boat_id TEXT NOT NULL REFERENCES boats (id),
	id TEXT NOT NULL,
	component_id TEXT NOT NULL DEFAULT '',
	service TEXT NOT NULL,
	title TEXT NOT NULL,
	due TEXT NOT NULL CHECK (due GLOB '[0-9][0-9][0-9][0-9]-[0-1][0-9]-[0-3][0-9]'),
	raised TEXT CHECK (raised GLOB '[0-9][0-9][0-9][0-9]-[0-1][0-9]-[0-3][0-9]'),
	finding TEXT NOT NULL DEFAULT '',
	PRIMARY KEY (boat_id, id)
) STRICT, WITHOUT ROWID;

CREATE TABLE overrides (
	boat_id TEXT NOT NULL REFERENCES boats (id),
	component_id TEXT NOT NULL DEFAULT '',
	rule TEXT NOT NULL,
	months INTEGER NOT NULL DEFAULT 0 CHECK (months >= 0),
	hours INTEGER NOT NULL DEFAULT 0 CHECK (hours >= 0),
	skip INTEGER NOT NULL DEFAULT 0 CHECK (skip IN (0, 1)),
	by_customer INTEGER NOT NULL DEFAULT 0 CHECK (by_customer IN (0, 1)),
	source TEXT NOT NULL DEFAULT '',
	PRIMARY KEY (boat_id, component_id, rule)
) STRICT, WITHOUT ROWID;

CREATE TABLE bookings (
	boat_id TEXT NOT NULL REFERENCES boats (id),
	visit_id TEXT NOT NULL UNIQUE,
	kind TEXT NOT NULL CHECK (kind IN ('lay-up', 'fit-out', 'extra')),
	day TEXT NOT NULL CHECK (day GLOB '[0-9][0-9][0-9][0-9]-[0-1][0-9]-[0-3][0-9]'),
	minute INTEGER NOT NULL DEFAULT -1 CHECK (minute BETWEEN -1 AND 1439),
	PRIMARY KEY (boat_id, visit_id)
) STRICT, WITHOUT ROWID;
CREATE INDEX bookings_day ON bookings (day);

-- Who changed what. before and after are JSON, NULL where there was nothing.
CREATE TABLE audit (
	id INTEGER PRIMARY KEY,
	at INTEGER NOT NULL,
	actor TEXT NOT NULL,
	what TEXT NOT NULL,
	boat_id TEXT NOT NULL DEFAULT '',
	customer_id TEXT NOT NULL DEFAULT '',
	before TEXT,
	after TEXT
) STRICT;
CREATE INDEX audit_boat ON audit (boat_id, id) WHERE boat_id <> '';
CREATE INDEX audit_customer ON audit (customer_id, id) WHERE customer_id <> '';

CREATE TABLE settings (
	key TEXT PRIMARY KEY,
	value BLOB NOT NULL
) STRICT, WITHOUT ROWID;

-- What a job has already done, so that a double tick does it once.
CREATE TABLE ticks (
	job TEXT NOT NULL,
	key TEXT NOT NULL,
	at INTEGER NOT NULL,
	PRIMARY KEY (job, key)
) STRICT, WITHOUT ROWID;

-- Boats whose facts changed since they were planned. version counts the
-- transactions that changed facts, so that a change made while a plan is being
-- worked out is not forgotten.
CREATE TABLE dirty (
	boat_id TEXT PRIMARY KEY REFERENCES boats (id),
	version INTEGER NOT NULL
) STRICT, WITHOUT ROWID;
CREATE TABLE facts_version (
	one INTEGER PRIMARY KEY CHECK (one = 1),
	version INTEGER NOT NULL
) STRICT;
INSERT INTO facts_version VALUES (1, 0);

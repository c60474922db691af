-- Winter work is a kind of visit of its own.

-- +goose Up
DROP TRIGGER week_load_visit_new;
DROP TRIGGER week_load_visit_gone;
DROP TRIGGER week_load_visit_changed;
DROP TRIGGER week_load_booked;
DROP TRIGGER week_load_unbooked;
DROP TRIGGER week_load_rebooked;

CREATE TABLE visits_with_winter (
	boat_id TEXT NOT NULL REFERENCES boats (id),
	id TEXT NOT NULL UNIQUE,
	kind TEXT NOT NULL CHECK (kind IN ('lay-up', 'fit-out', 'extra', 'winter')),
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
	last_day TEXT CHECK (last_day GLOB '[0-9][0-9][0-9][0-9]-[0-1][0-9]-[0-3][0-9]'), missed_day TEXT CHECK (missed_day GLOB '[0-9][0-9][0-9][0-9]-[0-1][0-9]-[0-3][0-9]'), week_why TEXT NOT NULL DEFAULT '', week_from TEXT CHECK (week_from GLOB '[0-9][0-9][0-9][0-9]-[0-1][0-9]-[0-3][0-9]'), yard INTEGER NOT NULL DEFAULT 0, lifts INTEGER NOT NULL DEFAULT 0,
	PRIMARY KEY (boat_id, id)
) STRICT, WITHOUT ROWID;
INSERT INTO visits_with_winter (boat_id, id, kind, season, open_day, close_day, day, deadline, labour, price, priority, items, week, told_week, lapsed, last_day, missed_day, week_why, week_from, yard, lifts) SELECT boat_id, id, kind, season, open_day, close_day, day, deadline, labour, price, priority, items, week, told_week, lapsed, last_day, missed_day, week_why, week_from, yard, lifts FROM visits;
DROP TABLE visits;
ALTER TABLE visits_with_winter RENAME TO visits;
CREATE INDEX visits_week ON visits (week, id) WHERE week IS NOT NULL;
CREATE INDEX visits_day ON visits (day, id);
CREATE INDEX visits_deadline ON visits (deadline, id);
CREATE INDEX visits_told ON visits (told_week, id) WHERE told_week IS NOT NULL;
CREATE INDEX visits_week_deadline ON visits (week, deadline, id) WHERE week IS NOT NULL;

CREATE TABLE bookings_with_winter (
	boat_id TEXT NOT NULL REFERENCES boats (id),
	visit_id TEXT NOT NULL UNIQUE,
	kind TEXT NOT NULL CHECK (kind IN ('lay-up', 'fit-out', 'extra', 'winter')),
	day TEXT NOT NULL CHECK (day GLOB '[0-9][0-9][0-9][0-9]-[0-1][0-9]-[0-3][0-9]'),
	minute INTEGER NOT NULL DEFAULT -1 CHECK (minute BETWEEN -1 AND 1439), over INTEGER NOT NULL DEFAULT 0 CHECK (over IN (0, 1)), reason TEXT NOT NULL DEFAULT '',
	PRIMARY KEY (boat_id, visit_id)
) STRICT, WITHOUT ROWID;
INSERT INTO bookings_with_winter (boat_id, visit_id, kind, day, minute, over, reason) SELECT boat_id, visit_id, kind, day, minute, over, reason FROM bookings;
DROP TABLE bookings;
ALTER TABLE bookings_with_winter RENAME TO bookings;
CREATE INDEX bookings_day ON bookings (day);

CREATE TABLE outlooks_with_winter (
	asked_on TEXT NOT NULL CHECK (asked_on GLOB '[0-9][0-9][0-9][0-9]-[0-1][0-9]-[0-3][0-9]'),
	boat_id TEXT NOT NULL REFERENCES boats (id),
	visit_id TEXT NOT NULL,
	kind TEXT NOT NULL CHECK (kind IN ('lay-up', 'fit-out', 'extra', 'winter')),
	season INTEGER NOT NULL DEFAULT 0,
	day TEXT NOT NULL CHECK (day GLOB '[0-9][0-9][0-9][0-9]-[0-1][0-9]-[0-3][0-9]'),
	list INTEGER NOT NULL,
	chance REAL NOT NULL CHECK (chance BETWEEN 0 AND 1),
	PRIMARY KEY (asked_on, boat_id, visit_id)
) STRICT, WITHOUT ROWID;
INSERT INTO outlooks_with_winter (asked_on, boat_id, visit_id, kind, season, day, list, chance) SELECT asked_on, boat_id, visit_id, kind, season, day, list, chance FROM outlooks;
DROP TABLE outlooks;
ALTER TABLE outlooks_with_winter RENAME TO outlooks;

-- +goose StatementBegin
CREATE TRIGGER week_load_visit_new AFTER INSERT ON visits BEGIN
	INSERT INTO week_load (week, booked, yard_booked, lifts_booked)
		SELECT date(day, 'weekday 0', '-6 days'), new.labour, new.yard, new.lifts FROM bookings WHERE visit_id = new.id
		ON CONFLICT (week) DO UPDATE SET booked = booked + excluded.booked, yard_booked = yard_booked + excluded.yard_booked, lifts_booked = lifts_booked + excluded.lifts_booked;
	INSERT INTO week_load (week, pencilled, yard_pencilled, lifts_pencilled)
		SELECT new.week, new.labour, new.yard, new.lifts WHERE new.week IS NOT NULL AND NOT EXISTS (SELECT 1 FROM bookings WHERE visit_id = new.id)
		ON CONFLICT (week) DO UPDATE SET pencilled = pencilled + excluded.pencilled, yard_pencilled = yard_pencilled + excluded.yard_pencilled, lifts_pencilled = lifts_pencilled + excluded.lifts_pencilled;
END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER week_load_visit_gone AFTER DELETE ON visits BEGIN
	UPDATE week_load SET booked = booked - old.labour, yard_booked = yard_booked - old.yard, lifts_booked = lifts_booked - old.lifts
		WHERE week IN (SELECT date(day, 'weekday 0', '-6 days') FROM bookings WHERE visit_id = old.id);
	UPDATE week_load SET pencilled = pencilled - old.labour, yard_pencilled = yard_pencilled - old.yard, lifts_pencilled = lifts_pencilled - old.lifts
		WHERE week = old.week AND NOT EXISTS (SELECT 1 FROM bookings WHERE visit_id = old.id);
END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER week_load_visit_changed AFTER UPDATE OF week, labour, yard, lifts ON visits
WHEN new.week IS NOT old.week OR new.labour <> old.labour OR new.yard <> old.yard OR new.lifts <> old.lifts BEGIN
	UPDATE week_load SET booked = booked - old.labour + new.labour, yard_booked = yard_booked - old.yard + new.yard, lifts_booked = lifts_booked - old.lifts + new.lifts
		WHERE week IN (SELECT date(day, 'weekday 0', '-6 days') FROM bookings WHERE visit_id = new.id);
	UPDATE week_load SET pencilled = pencilled - old.labour, yard_pencilled = yard_pencilled - old.yard, lifts_pencilled = lifts_pencilled - old.lifts
		WHERE week = old.week AND NOT EXISTS (SELECT 1 FROM bookings WHERE visit_id = new.id);
	INSERT INTO week_load (week, pencilled, yard_pencilled, lifts_pencilled)
		SELECT new.week, new.labour, new.yard, new.lifts WHERE new.week IS NOT NULL AND NOT EXISTS (SELECT 1 FROM bookings WHERE visit_id = new.id)
		ON CONFLICT (week) DO UPDATE SET pencilled = pencilled + excluded.pencilled, yard_pencilled = yard_pencilled + excluded.yard_pencilled, lifts_pencilled = lifts_pencilled + excluded.lifts_pencilled;
END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER week_load_booked AFTER INSERT ON bookings BEGIN
	UPDATE week_load SET (pencilled, yard_pencilled, lifts_pencilled) = (SELECT pencilled - v.labour, yard_pencilled - v.yard, lifts_pencilled - v.lifts FROM visits v WHERE v.id = new.visit_id)
		WHERE week = (SELECT week FROM visits WHERE id = new.visit_id);
	INSERT INTO week_load (week, booked, yard_booked, lifts_booked)
		SELECT date(new.day, 'weekday 0', '-6 days'), labour, yard, lifts FROM visits WHERE id = new.visit_id
		ON CONFLICT (week) DO UPDATE SET booked = booked + excluded.booked, yard_booked = yard_booked + excluded.yard_booked, lifts_booked = lifts_booked + excluded.lifts_booked;
END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER week_load_unbooked AFTER DELETE ON bookings BEGIN
	UPDATE week_load SET (booked, yard_booked, lifts_booked) = (SELECT booked - v.labour, yard_booked - v.yard, lifts_booked - v.lifts FROM visits v WHERE v.id = old.visit_id)
		WHERE week = date(old.day, 'weekday 0', '-6 days') AND EXISTS (SELECT 1 FROM visits WHERE id = old.visit_id);
	INSERT INTO week_load (week, pencilled, yard_pencilled, lifts_pencilled)
		SELECT week, labour, yard, lifts FROM visits WHERE id = old.visit_id AND week IS NOT NULL
		ON CONFLICT (week) DO UPDATE SET pencilled = pencilled + excluded.pencilled, yard_pencilled = yard_pencilled + excluded.yard_pencilled, lifts_pencilled = lifts_pencilled + excluded.lifts_pencilled;
END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER week_load_rebooked AFTER UPDATE OF day, visit_id ON bookings BEGIN
	UPDATE week_load SET (booked, yard_booked, lifts_booked) = (SELECT booked - v.labour, yard_booked - v.yard, lifts_booked - v.lifts FROM visits v WHERE v.id = old.visit_id)
		WHERE week = date(old.day, 'weekday 0', '-6 days') AND EXISTS (SELECT 1 FROM visits WHERE id = old.visit_id);
	INSERT INTO week_load (week, booked, yard_booked, lifts_booked)
		SELECT date(new.day, 'weekday 0', '-6 days'), labour, yard, lifts FROM visits WHERE id = new.visit_id
		ON CONFLICT (week) DO UPDATE SET booked = booked + excluded.booked, yard_booked = yard_booked + excluded.yard_booked, lifts_booked = lifts_booked + excluded.lifts_booked;
END;
-- +goose StatementEnd

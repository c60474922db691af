-- The minutes of work in each shop week, kept up to date by the database
-- itself, so that one changed visit finds its week without reading the fleet. A
-- booked visit counts in the week of its booking, any other in the week that it
-- is pencilled for.

-- +goose Up
CREATE TABLE week_load (
	week TEXT PRIMARY KEY, -- its Monday
	booked INTEGER NOT NULL DEFAULT 0,
	pencilled INTEGER NOT NULL DEFAULT 0
) STRICT, WITHOUT ROWID;

INSERT INTO week_load (week, booked, pencilled)
SELECT week, sum(booked), sum(pencilled) FROM (
	SELECT date(k.day, 'weekday 0', '-6 days') AS week, v.labour AS booked, 0 AS pencilled
	FROM visits v JOIN bookings k ON k.visit_id = v.id
	UNION ALL
	SELECT v.week, 0, v.labour FROM visits v
	WHERE v.week IS NOT NULL AND NOT EXISTS (SELECT 1 FROM bookings k WHERE k.visit_id = v.id)
) GROUP BY week;

-- +goose StatementBegin
CREATE TRIGGER week_load_visit_new AFTER INSERT ON visits BEGIN
	INSERT INTO week_load (week, booked)
		SELECT date(day, 'weekday 0', '-6 days'), new.labour FROM bookings WHERE visit_id = new.id
		ON CONFLICT (week) DO UPDATE SET booked = booked + excluded.booked;
	INSERT INTO week_load (week, pencilled)
		SELECT new.week, new.labour WHERE new.week IS NOT NULL AND NOT EXISTS (SELECT 1 FROM bookings WHERE visit_id = new.id)
		ON CONFLICT (week) DO UPDATE SET pencilled = pencilled + excluded.pencilled;
END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER week_load_visit_gone AFTER DELETE ON visits BEGIN
	UPDATE week_load SET booked = booked - old.labour
		WHERE week IN (SELECT date(day, 'weekday 0', '-6 days') FROM bookings WHERE visit_id = old.id);
	UPDATE week_load SET pencilled = pencilled - old.labour
		WHERE week = old.week AND NOT EXISTS (SELECT 1 FROM bookings WHERE visit_id = old.id);
END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER week_load_visit_changed AFTER UPDATE OF week, labour ON visits
WHEN new.week IS NOT old.week OR new.labour <> old.labour BEGIN
	UPDATE week_load SET booked = booked - old.labour + new.labour
		WHERE week IN (SELECT date(day, 'weekday 0', '-6 days') FROM bookings WHERE visit_id = new.id);
	UPDATE week_load SET pencilled = pencilled - old.labour
		WHERE week = old.week AND NOT EXISTS (SELECT 1 FROM bookings WHERE visit_id = new.id);
	INSERT INTO week_load (week, pencilled)
		SELECT new.week, new.labour WHERE new.week IS NOT NULL AND NOT EXISTS (SELECT 1 FROM bookings WHERE visit_id = new.id)
		ON CONFLICT (week) DO UPDATE SET pencilled = pencilled + excluded.pencilled;
END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER week_load_booked AFTER INSERT ON bookings BEGIN
	UPDATE week_load SET pencilled = pencilled - (SELECT labour FROM visits WHERE id = new.visit_id)
		WHERE week = (SELECT week FROM visits WHERE id = new.visit_id);
	INSERT INTO week_load (week, booked)
		SELECT date(new.day, 'weekday 0', '-6 days'), labour FROM visits WHERE id = new.visit_id
		ON CONFLICT (week) DO UPDATE SET booked = booked + excluded.booked;
END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER week_load_unbooked AFTER DELETE ON bookings BEGIN
	UPDATE week_load SET booked = booked - (SELECT labour FROM visits WHERE id = old.visit_id)
		WHERE week = date(old.day, 'weekday 0', '-6 days') AND EXISTS (SELECT 1 FROM visits WHERE id = old.visit_id);
	INSERT INTO week_load (week, pencilled)
		SELECT week, labour FROM visits WHERE id = old.visit_id AND week IS NOT NULL
		ON CONFLICT (week) DO UPDATE SET pencilled = pencilled + excluded.pencilled;
END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER week_load_rebooked AFTER UPDATE OF day, visit_id ON bookings BEGIN
	UPDATE week_load SET booked = booked - (SELECT labour FROM visits WHERE id = old.visit_id)
		WHERE week = date(old.day, 'weekday 0', '-6 days') AND EXISTS (SELECT 1 FROM visits WHERE id = old.visit_id);
	INSERT INTO week_load (week, booked)
		SELECT date(new.day, 'weekday 0', '-6 days'), labour FROM visits WHERE id = new.visit_id
		ON CONFLICT (week) DO UPDATE SET booked = booked + excluded.booked;
END;
-- +goose StatementEnd

-- The yard: minutes of its crew and moves of the lift beside the technicians'
-- minutes, by visit and by week. A boat's owner may agree that what is done cold
-- is done in the winter.

-- +goose Up
ALTER TABLE boats ADD COLUMN winter_work INTEGER NOT NULL DEFAULT 0;
ALTER TABLE visits ADD COLUMN yard INTEGER NOT NULL DEFAULT 0;
ALTER TABLE visits ADD COLUMN lifts INTEGER NOT NULL DEFAULT 0;
ALTER TABLE week_load ADD COLUMN yard_booked INTEGER NOT NULL DEFAULT 0;
ALTER TABLE week_load ADD COLUMN yard_pencilled INTEGER NOT NULL DEFAULT 0;
ALTER TABLE week_load ADD COLUMN lifts_booked INTEGER NOT NULL DEFAULT 0;
ALTER TABLE week_load ADD COLUMN lifts_pencilled INTEGER NOT NULL DEFAULT 0;

DROP TRIGGER week_load_visit_new;
DROP TRIGGER week_load_visit_gone;
DROP TRIGGER week_load_visit_changed;
DROP TRIGGER week_load_booked;
DROP TRIGGER week_load_unbooked;
DROP TRIGGER week_load_rebooked;

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

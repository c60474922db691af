package store

import (
	"io"

	"bellbuoy/schedule"
	"bellbuoy/store/internal/kernel"
)

func (in *intake) readings(r io.Reader) error {
	err := in.each("readings.csv", r, layout{
		columns:  []string{"component_id", "day", "hours", "read_by"},
		optional: []string{"new_meter"},
	}, in.readingLine)
	if err != nil {
		return err
	}
	return in.metersRise()
}

func (in *intake) readingLine(l *line) error {
	rd := schedule.Reading{ComponentID: l.id("component_id"), Day: l.pastDay("day"), ReadBy: l.text("read_by"), NewMeter: l.yes("new_meter")}
	var has bool
	rd.Hours, has = l.hours("hours")
	if !has && l.text("hours") == "" {
		l.fault("hours", "empty; want what the meter showed")
	}
	if rd.Day == 0 && l.text("day") == "" {
		l.fault("day", "empty; want the day of the reading, YYYY-MM-DD")
	}
	home, err := in.meterHome(l, rd.ComponentID)
	if err != nil || l.bad {
		return err
	}
	before, first, err := in.seen(l.no, readingKey(rd)...)
	if err != nil {
		return err
	}
	if before > 0 {
		l.note("", "the same reading as on line %d; counted once", first)
	}
	done, err := putReading(in.ctx, in.tx, home, rd)
	if err != nil {
		return err
	}
	in.report.count(done)
	if _, err := in.tx.ExecContext(in.ctx, "INSERT INTO temp.metered VALUES (?) ON CONFLICT DO NOTHING", rd.ComponentID); err != nil {
		return err
	}
	if done == unchanged {
		return nil
	}
	return in.touched(home)
}

// meterHome returns the boat of the component that was read.
func (in *intake) meterHome(l *line, id string) (string, error) {
	if id == "" || in.spoilt["component "+id] {
		l.bad = true
		return "", nil
	}
	home, err := in.boatOfComponent(id)
	switch {
	case err != nil:
		return "", err
	case home == "":
		l.fault("component_id", "no component %q in components.csv or the store; add it or correct the id", id)
	case home == id:
		l.fault("component_id", "%q is a boat; want the engine that was read", id)
	}
	return home, nil
}

// metersRise looks through every meter that the file touched, in order of day:
// a meter that goes backwards was misread or replaced.
func (in *intake) metersRise() error {
	type read struct {
		schedule.Reading
		line int
	}
	all, err := kernel.Collect(in.ctx, in.tx, func(c *kernel.Row) [2]schedule.Reading {
		return [2]schedule.Reading{
			{ComponentID: c.Text(0), Day: c.Day(1), Hours: c.Hours(2)},
			{ComponentID: c.Text(0), Day: c.Day(3), Hours: c.Hours(4)},
		}
	}, fallingMeters)
	if err != nil {
		return err
	}
	for _, pair := range all {
		late := read{Reading: pair[1]}
		if late.line, err = in.lineOf(pair[1]); err != nil {
			return err
		}
		if late.line == 0 {
			if late.line, err = in.lineOf(pair[0]); err != nil {
				return err
			}
		}
		in.report.fault("readings.csv", late.line, "hours", fallingMeter(pair[0], pair[1])+"; correct one of the two, or write yes in a column new_meter")
	}
	return nil
}

// lineOf returns the line on which a reading stood, 0 if not in this run.
func (in *intake) lineOf(rd schedule.Reading) (int, error) {
	n, err := kernel.One(in.ctx, in.tx, kernel.FirstInt,
		"SELECT line FROM temp.seen WHERE h = ?", hash63(readingKey(rd)...))
	_, err = kernel.Found(err)
	return int(n), err
}

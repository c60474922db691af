package store

import (
	"io"

	"bellbuoy/schedule"
)

func (in *intake) history(r io.Reader) error {
	return in.each("history.csv", r, layout{columns: []string{
		"boat_id", "component_id", "day", "service", "hours", "amount", "by", "note",
	}}, in.recordLine)
}

func (in *intake) recordLine(l *line) error {
	rec := schedule.Record{
		BoatID: l.id("boat_id"), ComponentID: l.optionalID("component_id"), Day: l.pastDay("day"), Service: l.text("service"),
		Amount: l.cents("amount"), By: l.word("by", schedule.Doers), Note: l.text("note"),
	}
	rec.Hours, rec.HasHours = l.hours("hours")
	if rec.Day == 0 && l.text("day") == "" {
		l.fault("day", "empty; want the day of the work, YYYY-MM-DD")
	}
	switch {
	case rec.Service == "":
		l.fault("service", "empty; want the code of a service")
	case len(in.known.Services) > 0:
		l.optionalWord("service", rec.Service, in.known.Services)
	}
	if err := in.checkPlace(l, rec.BoatID, rec.ComponentID); err != nil {
		return err
	}
	if l.bad {
		return nil
	}
	if rec.HasHours && rec.ComponentID == "" {
		l.note("hours", "meter hours without a component; they count for no engine")
	}
	ordinal, _, err := in.seen(l.no, recordKey(rec)...)
	if err != nil {
		return err
	}
	rec.ID = recordID(rec, ordinal)
	done, err := putRecord(in.ctx, in.tx, rec)
	if err != nil {
		return err
	}
	in.report.count(done)
	if done == unchanged {
		return nil
	}
	return in.touched(rec.BoatID)
}

// checkPlace checks that the boat is known and has the component.
func (in *intake) checkPlace(l *line, boatID, componentID string) error {
	if in.spoilt["boat "+boatID] || in.spoilt["component "+componentID] {
		l.bad = true
		return nil
	}
	ok, err := in.hasBoat(boatID)
	if err != nil {
		return err
	}
	if !ok {
		if boatID != "" {
			l.fault("boat_id", "no boat %q in boats.csv or the store; add the boat or correct the id", boatID)
		}
		return nil
	}
	if componentID == "" {
		return nil
	}
	home, err := in.boatOfComponent(componentID)
	switch {
	case err != nil:
		return err
	case home == "":
		l.fault("component_id", "no component %q in components.csv or the store; add it, correct the id, or leave it empty for the whole boat", componentID)
	case home != boatID:
		l.fault("component_id", "%q belongs to boat %q; correct one of the two", componentID, home)
	}
	return nil
}

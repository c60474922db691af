package imports

import (
	"bellbuoy/schedule"
	"bellbuoy/store/imports/columns"
	"bellbuoy/store/internal/kernel"
	"bellbuoy/store/internal/tables"
)

func (in *intake) component(l *columns.Line, lay *columns.Layout[schedule.Component], part schedule.Component) error {
	part.Attr.Kind = part.Kind
	if part.Kind == "hull" {
		l.Fault("kind", "every boat has its hull without a line; take this one out and use the boat's id in the history")
	}
	if err := in.checkComponent(l, part); err != nil {
		return err
	}
	if l.Bad {
		in.spoilt["component "+part.ID] = true
		return nil
	}
	if lay.Lacks() {
		was, err := kernel.One(in.ctx, in.tx, tables.ReadComponent, "SELECT "+tables.ComponentColumns+" FROM components WHERE boat_id = ? AND id = ?", part.BoatID, part.ID)
		known, err := kernel.Found(err)
		if err != nil {
			return err
		}
		if known {
			lay.Keep(&part, &was)
		}
	}
	done, err := tables.PutComponent(in.ctx, in.tx, part)
	if err != nil {
		return err
	}
	in.report.count(l.File, done)
	if done == tables.Unchanged {
		return nil
	}
	return in.touched(part.BoatID)
}

// checkComponent checks the ids: the component's is new or this boat's, and
// the boat is known.
func (in *intake) checkComponent(l *columns.Line, part schedule.Component) error {
	before, first, err := in.seen(l.No, "component", part.ID)
	if err != nil {
		return err
	}
	if before > 0 && part.ID != "" {
		l.Fault("component_id", "%q is on line %d already; keep one line", part.ID, first)
		return nil
	}
	if in.spoilt["boat "+part.BoatID] {
		l.Bad = true
		return nil
	}
	ok, err := in.hasBoat(part.BoatID)
	if err != nil {
		return err
	}
	if !ok && part.BoatID != "" {
		l.Fault("boat_id", "no boat %q in boats.csv or the store; add the boat or correct the id", part.BoatID)
	}
	home, err := in.boatOfComponent(part.ID)
	if err != nil {
		return err
	}
	switch {
	case home == "":
	case home == part.ID:
		l.Fault("component_id", "%q is the id of a boat; give the component another", part.ID)
	case home != part.BoatID:
		l.Fault("boat_id", "component %q belongs to boat %q; its history stays there, give it a new id on boat %q", part.ID, home, part.BoatID)
	}
	return nil
}

package imports

import (
	"encoding/json"
	"fmt"
	"slices"

	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/hin"
	"bellbuoy/store"
	"bellbuoy/store/imports/columns"
	"bellbuoy/store/internal/kernel"
	"bellbuoy/store/internal/tables"
)

// boatLine is a row of boats.csv and where it stands.
type boatLine struct {
	columns.Boat
	line int
}

// boat stages a row: the rows of one hull need not stand together, and are written
// hull by hull.
func (in *intake) boat(l *columns.Line, lay *columns.Layout[columns.Boat], b columns.Boat) error {
	in.boatLayout = lay
	if err := in.checkOwner(l, b.CustomerID); err != nil {
		return err
	}
	if l.Bad {
		in.spoilt["boat "+b.ID] = true
		return nil
	}
	noteHIN(l, b.Boat)
	row, err := json.Marshal(b)
	if err != nil {
		return err
	}
	_, err = in.tx.ExecContext(in.ctx, "INSERT INTO temp.boat_lines VALUES (?, ?, ?, ?)", b.ID, b.SoldOn.String(), l.No, row)
	return err
}

func (in *intake) checkOwner(l *columns.Line, owner string) error {
	if owner == "" || in.spoilt["customer "+owner] {
		l.Bad = l.Bad || owner != ""
		return nil
	}
	ok, err := in.hasCustomer(owner)
	if err == nil && !ok {
		l.Fault("customer_id", "no customer %q in customers.csv or the store; add the customer or correct the id", owner)
	}
	return err
}

// hulls goes through the staged lines hull by hull.
func (in *intake) hulls() error {
	rows, err := in.tx.QueryContext(in.ctx, "SELECT line, row FROM temp.boat_lines ORDER BY boat_id, sold_on, line")
	if err != nil {
		return err
	}
	c, err := kernel.NewRow(rows)
	if err != nil {
		return err
	}
	var group []boatLine
	for c.Next() {
		next := boatLine{line: int(c.Int(0))}
		if err := json.Unmarshal(c.Blob(1), &next.Boat); err != nil {
			c.Note(err)
			break
		}
		if len(group) > 0 && group[0].ID != next.ID {
			if err := in.hull(group); err != nil {
				c.Note(err)
				break
			}
			group = group[:0]
		}
		group = append(group, next)
	}
	if err := c.Close(); err != nil || len(group) == 0 {
		return err
	}
	return in.hull(group)
}

// hull writes one boat and its owners. A hull with a line that has a fault is
// left alone: its owners would come out wrong, and nothing is kept anyway.
func (in *intake) hull(lines []boatLine) error {
	latest := lines[len(lines)-1]
	id := latest.ID
	if in.spoilt["boat "+id] || !in.checkHull(lines) {
		in.spoilt["boat "+id] = true
		return nil
	}
	claims := make([]tables.Claim, len(lines))
	for i, l := range lines {
		claims[i] = tables.Claim{Customer: l.CustomerID, From: l.SoldOn}
	}
	latest.SoldOn = lastSale(lines)
	was, known, err := tables.KnownBoat(in.ctx, in.tx, id)
	if err != nil {
		return err
	}
	if !known {
		latest.WinterWork = latest.Winter == "yes"
		if _, err := tables.PutBoat(in.ctx, in.tx, latest.Boat.Boat); err != nil {
			return err
		}
	}
	owners, err := in.owners(latest, claims)
	if err != nil || owners == nil {
		return err
	}
	boatChange := tables.Added
	if known {
		boatChange, err = in.updateHull(was, latest, owners)
		if err != nil {
			return err
		}
	}
	return in.countHull(id, boatChange, owners)
}

// lastSale is the day of our latest sale of a hull; none if we never sold it.
func lastSale(lines []boatLine) civil.Day {
	for _, l := range slices.Backward(lines) {
		if l.Origin != columns.OriginService {
			return l.SoldOn
		}
	}
	return 0
}

// checkHull looks for lines of one hull that contradict each other.
func (in *intake) checkHull(lines []boatLine) bool {
	ok := true
	for i, b := range lines[1:] {
		a := lines[i]
		if a.SoldOn == b.SoldOn {
			ok = false
			what := "boat %q is on %s already with the same day; keep one line for each owner, and give the later one its sold_on"
			in.report.fault(columns.Boats.Name, b.line, "sold_on", fmt.Sprintf(what, b.ID, in.where(columns.Boats.Name, a.line)))
			continue
		}
		if field := hullDiffers(&a.Boat.Boat, &b.Boat.Boat); field != "" {
			in.report.note(columns.Boats.Name, b.line, field, fmt.Sprintf("differs from line %d of the same boat %q; the later sale's is taken", a.line, b.ID))
		}
	}
	return ok
}

// hullDiffers names the first fact of the hull itself in which two lines of the
// same boat differ.
func hullDiffers(a, b *schedule.Boat) string {
	switch {
	case a.HIN != b.HIN:
		return "hin"
	case a.Make != b.Make:
		return "make"
	case a.Model != b.Model:
		return "model"
	case a.Year != b.Year:
		return "year"
	case a.Kind != b.Kind:
		return "kind"
	case a.LengthFt != b.LengthFt:
		return "length_ft"
	}
	return ""
}

// owners merges the file's owners with the known ones; nil after a fault.
func (in *intake) owners(latest boatLine, claims []tables.Claim) (*tables.Merged, error) {
	known, err := tables.Ownerships(in.ctx, in.tx, latest.ID)
	if err != nil {
		return nil, err
	}
	m, err := tables.MergeClaims(latest.ID, known, claims)
	if err != nil {
		in.spoilt["boat "+latest.ID] = true
		in.report.fault(columns.Boats.Name, latest.line, "sold_on", err.Error())
		return nil, nil
	}
	if !m.Changed {
		return m, nil
	}
	if before := (&tables.Merged{All: known}).Newest(); before != "" && m.Newest() != before {
		if err := in.noteBooked(latest); err != nil {
			return nil, err
		}
	}
	return m, store.SetOwners(in.ctx, in.tx, in.now, latest.ID, known, m)
}

// noteBooked says which booked days go to a boat's new owner with it: a file
// cannot ask.
func (in *intake) noteBooked(latest boatLine) error {
	booked, err := kernel.Collect(in.ctx, in.tx, tables.ReadBooking,
		"SELECT "+tables.BookingColumns+" FROM bookings WHERE boat_id = ? AND day >= ? ORDER BY day, visit_id", latest.ID, in.shop.Today.String())
	for _, b := range booked {
		in.report.note(columns.Boats.Name, latest.line, "customer_id",
			fmt.Sprintf("boat %q changes owners and its visit booked for %s stays booked; tell the earlier owner, and ask the new one", latest.ID, b.Day))
	}
	return err
}

// updateHull writes the latest line over the known boat, unless the store
// knows of a later owner than the file does.
func (in *intake) updateHull(was schedule.Boat, latest boatLine, owners *tables.Merged) (tables.Change, error) {
	if owners.Newest() != latest.CustomerID {
		in.report.note(columns.Boats.Name, latest.line, "customer_id",
			fmt.Sprintf("boat %q has since gone to customer %q; its name, place and berth were left as they are", was.ID, owners.Newest()))
		return tables.Unchanged, nil
	}
	in.keepHull(was, &latest.Boat)
	now := latest.Boat.Boat
	now.Gone = was.Gone
	if latest.Origin == "" && !owners.Changed { // the file does not say whether we sold it
		now.SoldOn = was.SoldOn
	}
	// What an owner agreed to holds until there is another owner, or the file says
	// otherwise.
	now.WinterWork = latest.Winter == "yes" || latest.Winter == "" && was.WinterWork && !owners.Changed
	return tables.PutBoat(in.ctx, in.tx, now)
}

// countHull counts the lines of one hull: the latest stands for the boat, each
// other one for its owner.
func (in *intake) countHull(id string, boat tables.Change, owners *tables.Merged) error {
	last := len(owners.Claimed) - 1
	for i, c := range owners.Claimed {
		if i == last {
			c = max(c, boat)
			if boat != tables.Added && c == tables.Added {
				c = tables.Changed // a known boat with a new owner
			}
		}
		in.report.count(columns.Boats.Name, c)
	}
	if boat == tables.Unchanged && !owners.Changed {
		return nil
	}
	return in.touched(id)
}

// noteHIN remarks on a hull identification number that is odd or does not fit
// the boat's year. Numbers from before 1972 and from abroad are odd too, so it
// is never a fault.
func noteHIN(l *columns.Line, b schedule.Boat) {
	for _, odd := range hin.Remarks(b.HIN) {
		l.Note("hin", "%s; imported as written, check the hull", odd)
	}
	if odd := hin.Compare(b.HIN, b.Year); odd != "" {
		l.Note("year", "%s; imported as written, check the hull", odd)
	}
}

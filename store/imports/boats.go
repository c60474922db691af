package imports

import (
	"fmt"
	"io"
	"slices"
	"strings"

	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/hin"
	"bellbuoy/store"
	"bellbuoy/store/internal/kernel"
	"bellbuoy/store/internal/tables"
)

// boatLine is one line of boats.csv: the hull as one owner has or had it.
type boatLine struct {
	boat     schedule.Boat // SoldOn is the line's
	customer string        // "" means the shop took it back
	origin   string        // one of origins, "" where the file does not say
	winter   string        // what it says of winter work: yes, no, or "" for nothing
	line     int
}

// The origins of a customer's boat: sold by us on the line's day, or brought by a
// customer whom we only serve and who has had it since that day.
const (
	originSold    = "sold"
	originService = "service"
)

// boats first stages every line and then writes hull by hull, because the
// lines of one hull need not stand together.
func (in *intake) boats(r io.Reader) error {
	err := in.each("boats.csv", r, layout{columns: []string{
		"boat_id", "customer_id", "hin", "name", "make", "model", "year", "kind", "length_ft", "water",
		"place", "berth", "sold_on", "warranty_until",
	}, optional: []string{"origin", "winter_work"}}, in.boatLine)
	if err != nil {
		return err
	}
	return in.hulls()
}

func (in *intake) boatLine(l *line) error {
	if in.skipMerged(l, "boat_id") {
		return nil
	}
	b := schedule.Boat{
		ID: l.id("boat_id"), HIN: hin.Written(l.text("hin")), Name: l.text("name"),
		Make: l.text("make"), Model: l.text("model"), Year: l.whole("year", 0, 1850, l.in.today.Year()+2),
		Kind: l.word("kind", schedule.BoatKinds), LengthFt: l.feet("length_ft"), Water: l.word("water", schedule.Waters),
		Place: l.text("place"), Berth: l.word("berth", schedule.Berths),
		SoldOn: l.day("sold_on"), WarrantyUntil: l.day("warranty_until"),
	}
	owner := l.optionalID("customer_id")
	origin := l.optionalWord("origin", l.text("origin"), []string{originSold, originService})
	winter := l.optionalWord("winter_work", strings.ToLower(l.text("winter_work")), []string{"yes", "no"})
	if b.Place == "" {
		l.fault("place", "empty; want the name of a place from the shop's settings")
	} else if len(in.known.Places) > 0 {
		l.optionalWord("place", b.Place, in.known.Places)
	}
	if err := in.checkOwner(l, owner); err != nil {
		return err
	}
	if l.bad {
		in.spoilt["boat "+b.ID] = true
		return nil
	}
	noteHIN(l, b)
	_, err := in.tx.ExecContext(in.ctx, "INSERT INTO temp.boat_lines VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
		b.ID, b.SoldOn.String(), l.no, owner, b.HIN, b.Name, b.Make, b.Model, b.Year, b.Kind, b.LengthFt, b.Water,
		b.Place, b.Berth, b.WarrantyUntil.String(), origin, winter)
	return err
}

func (in *intake) checkOwner(l *line, owner string) error {
	if owner == "" || in.spoilt["customer "+owner] {
		l.bad = l.bad || owner != ""
		return nil
	}
	ok, err := in.hasCustomer(owner)
	if err == nil && !ok {
		l.fault("customer_id", "no customer %q in customers.csv or the store; add the customer or correct the id", owner)
	}
	return err
}

// hulls goes through the staged lines hull by hull.
func (in *intake) hulls() error {
	rows, err := in.tx.QueryContext(in.ctx, `SELECT boat_id, sold_on, line, customer_id, hin, name, make, model, year, kind,
		length_ft, water, place, berth, warranty_until, origin, winter_work FROM temp.boat_lines ORDER BY boat_id, sold_on, line`)
	if err != nil {
		return err
	}
	c, err := kernel.NewRow(rows)
	if err != nil {
		return err
	}
	var group []boatLine
	for c.Next() {
		next := readBoatLine(c)
		if len(group) > 0 && group[0].boat.ID != next.boat.ID {
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

func readBoatLine(c *kernel.Row) boatLine {
	return boatLine{line: int(c.Int(2)), customer: c.Text(3), origin: c.Text(15), winter: c.Text(16), boat: schedule.Boat{
		ID: c.Text(0), SoldOn: c.Day(1), HIN: c.Text(4), Name: c.Text(5), Make: c.Text(6), Model: c.Text(7),
		Year: int(c.Int(8)), Kind: c.Text(9), LengthFt: c.Real(10), Water: c.Text(11), Place: c.Text(12),
		Berth: c.Text(13), WarrantyUntil: c.Day(14),
	}}
}

// hull writes one boat and its owners. A hull with a line that has a fault is
// left alone: its owners would come out wrong, and nothing is kept anyway.
func (in *intake) hull(lines []boatLine) error {
	latest := lines[len(lines)-1]
	id := latest.boat.ID
	if in.spoilt["boat "+id] || !in.checkHull(lines) {
		in.spoilt["boat "+id] = true
		return nil
	}
	claims := make([]tables.Claim, len(lines))
	for i, l := range lines {
		claims[i] = tables.Claim{Customer: l.customer, From: l.boat.SoldOn}
	}
	latest.boat.SoldOn = lastSale(lines)
	was, known, err := tables.KnownBoat(in.ctx, in.tx, id)
	if err != nil {
		return err
	}
	if !known {
		latest.boat.WinterWork = latest.winter == "yes"
		if _, err := tables.PutBoat(in.ctx, in.tx, latest.boat); err != nil {
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
		if l.origin != originService {
			return l.boat.SoldOn
		}
	}
	return 0
}

// checkHull looks for lines of one hull that contradict each other.
func (in *intake) checkHull(lines []boatLine) bool {
	ok := true
	for i, b := range lines[1:] {
		a := lines[i]
		if a.boat.SoldOn == b.boat.SoldOn {
			ok = false
			what := "boat %q is on line %d already with the same day; keep one line for each owner, and give the later one its sold_on"
			in.report.fault("boats.csv", b.line, "sold_on", fmt.Sprintf(what, b.boat.ID, a.line))
			continue
		}
		if field := hullDiffers(a.boat, b.boat); field != "" {
			in.report.note("boats.csv", b.line, field, fmt.Sprintf("differs from line %d of the same boat %q; the later sale's is taken", a.line, b.boat.ID))
		}
	}
	return ok
}

// hullDiffers names the first fact of the hull itself in which two lines of the
// same boat differ.
func hullDiffers(a, b schedule.Boat) string {
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
	known, err := tables.Ownerships(in.ctx, in.tx, latest.boat.ID)
	if err != nil {
		return nil, err
	}
	m, err := tables.MergeClaims(latest.boat.ID, known, claims)
	if err != nil {
		in.spoilt["boat "+latest.boat.ID] = true
		in.report.fault("boats.csv", latest.line, "sold_on", err.Error())
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
	return m, store.SetOwners(in.ctx, in.tx, in.now, latest.boat.ID, known, m)
}

// noteBooked says which booked days go to a boat's new owner with it: a file
// cannot ask.
func (in *intake) noteBooked(latest boatLine) error {
	booked, err := kernel.Collect(in.ctx, in.tx, tables.ReadBooking,
		"SELECT "+tables.BookingColumns+" FROM bookings WHERE boat_id = ? AND day >= ? ORDER BY day, visit_id", latest.boat.ID, in.today.String())
	for _, b := range booked {
		in.report.note("boats.csv", latest.line, "customer_id",
			fmt.Sprintf("boat %q changes owners and its visit booked for %s stays booked; tell the earlier owner, and ask the new one", latest.boat.ID, b.Day))
	}
	return err
}

// updateHull writes the latest line over the known boat, unless the store
// knows of a later owner than the file does.
func (in *intake) updateHull(was schedule.Boat, latest boatLine, owners *tables.Merged) (tables.Change, error) {
	if owners.Newest() != latest.customer {
		in.report.note("boats.csv", latest.line, "customer_id",
			fmt.Sprintf("boat %q has since gone to customer %q; its name, place and berth were left as they are", was.ID, owners.Newest()))
		return tables.Unchanged, nil
	}
	now := latest.boat
	now.Gone = was.Gone
	if latest.origin == "" && !owners.Changed { // the file does not say whether we sold it
		now.SoldOn = was.SoldOn
	}
	// What an owner agreed to holds until there is another owner, or the file says
	// otherwise.
	now.WinterWork = latest.winter == "yes" || latest.winter == "" && was.WinterWork && !owners.Changed
	in.keepHull(was, &now)
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
		in.report.count(c)
	}
	if boat == tables.Unchanged && !owners.Changed {
		return nil
	}
	return in.touched(id)
}

// noteHIN remarks on a hull identification number that is odd or does not fit
// the boat's year. Numbers from before 1972 and from abroad are odd too, so it
// is never a fault.
func noteHIN(l *line, b schedule.Boat) {
	for _, odd := range hin.Remarks(b.HIN) {
		l.note("hin", "%s; imported as written, check the hull", odd)
	}
	if odd := hin.Compare(b.HIN, b.Year); odd != "" {
		l.note("year", "%s; imported as written, check the hull", odd)
	}
}

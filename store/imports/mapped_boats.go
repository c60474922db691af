package imports

import (
	"slices"
	"strconv"

	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/hin"
	"bellbuoy/store/imports/mapping"
	"bellbuoy/store/internal/kernel"
	"bellbuoy/store/internal/match"
	"bellbuoy/store/internal/tables"
)

// hull is a boat of one pass.
type hull struct {
	boat     schedule.Boat
	stored   schedule.Boat      // without an ID if the store does not know it
	merged   bool               // of two: rows then only fill what is empty
	winter   string             // whether its owner agrees to winter work, as rows say: yes, no or nothing
	owned    []tables.Ownership // as the store has it
	claims   []rowClaim         // who has or had it, as rows say
	engines  [2]schedule.Component
	trailer  schedule.Component
	register schedule.Component            // its registration
	parts    map[string]schedule.Component // by id, as the store has them
	usual    []*mapping.Line               // what the tables say holds where rows say nothing
	from     []place
}

// rowClaim is a claim with the rows that make it.
type rowClaim struct {
	tables.Claim
	rows []place
}

// hulls are the boats of one pass; those of the store as soon as a row means them.
type hulls struct {
	t    *taking
	byID map[string]*hull
}

func newHulls(t *taking) *hulls { return &hulls{t: t, byID: map[string]*hull{}} }

// lay lays what a row says over a boat, and makes the boat if it has only an id yet.
func (s *hulls) lay(at place, h *hull, l *mapping.Line) {
	if !slices.Contains(h.usual, l.Defaults) {
		h.usual = append(h.usual, l.Defaults)
	}
	s.merge(at, h, l.Boat)
	s.t.overlay(at, "boat "+h.boat.ID, "winter work", &h.winter, l.WinterWork, len(h.from) > 0)
	s.parts(at, h, l)
	h.from = append(h.from, at)
}

// meant is the boat that a row speaks of, with its id alone if nothing is known of it
// yet; nil if the row speaks of none.
func (s *hulls) meant(l *mapping.Line, row sourceRow) (*hull, error) {
	id, err := s.t.ident.boat(row.no, l)
	if err != nil || id == "" {
		return nil, err
	}
	h, err := s.load(id)
	if h == nil && err == nil {
		h = &hull{boat: schedule.Boat{ID: id}}
		s.byID[id] = h
	}
	return h, err
}

// load finds a boat by id, in the store too; nil if there is none.
func (s *hulls) load(id string) (*hull, error) {
	if kept, ok := s.t.merged["boat_id "+id]; ok {
		id = kept
	}
	if h := s.byID[id]; h != nil {
		return h, nil
	}
	b, known, err := tables.KnownBoat(s.t.ctx, s.t.db.Read, id)
	if err != nil || !known {
		return nil, err
	}
	h := &hull{boat: b, stored: b, merged: hasMerged(s.t.merged, "boat_id", id), parts: map[string]schedule.Component{}}
	if h.owned, err = tables.Ownerships(s.t.ctx, s.t.db.Read, id); err != nil {
		return nil, err
	}
	parts, err := kernel.Collect(s.t.ctx, s.t.db.Read, tables.ReadComponent, "SELECT "+tables.ComponentColumns+" FROM components WHERE boat_id = ? ORDER BY id", id)
	if err != nil {
		return nil, err
	}
	for _, p := range parts {
		h.parts[p.ID] = p
		h.keep(p)
	}
	s.byID[id] = h
	return h, nil
}

// keep puts a stored component in its slot.
func (h *hull) keep(p schedule.Component) {
	switch {
	case p.Kind == "trailer" && h.trailer.ID == "":
		h.trailer = p
	case p.Kind == "registration" && h.register.ID == "":
		h.register = p
	case p.Kind == "engine" && h.engines[0].ID == "":
		h.engines[0] = p
	case p.Kind == "engine" && h.engines[1].ID == "":
		h.engines[1] = p
	}
}

// naturalBoatID makes an id from what a boat is known by; one without a number
// that can be read has an owner, see find.
func naturalBoatID(b schedule.Boat, registration, owner string) string {
	switch {
	case hin.Identity(b.HIN) != "":
		return hin.Identity(b.HIN)
	case match.PlainRegistration(registration) != "":
		return "R-" + match.PlainRegistration(registration)
	case b.Name != "":
		return "B-" + tables.RowID("boat", owner, match.Fold(b.Name))[:10]
	}
	parts := []string{"boat", owner, match.Fold(b.Make), match.Fold(b.Model), strconv.Itoa(b.Year)}
	if b.HIN != "" { // of no format, but it tells boats of one make apart
		parts = append(parts, hin.Plain(b.HIN))
	}
	return "B-" + tables.RowID(parts...)[:10]
}

// claim notes that somebody has the boat. Whoever the store or an earlier row
// has as an owner without a day stays it; a second one needs the day.
func (s *hulls) claim(at place, h *hull, owner *person, from civil.Day) error {
	if owner == nil {
		return nil
	}
	for i := range h.claims {
		c := &h.claims[i]
		if c.Customer == owner.ID && (from == 0 || c.From == 0 || c.From == from) {
			c.From = max(c.From, from)
			c.rows = append(c.rows, at)
			return nil
		}
		if c.Customer != owner.ID && from == 0 && c.From == 0 {
			return refuse("gives boat %q to %q, but an earlier row gives it to another customer and neither says since when; add the day of the sale", h.boat.ID, owner.Name)
		}
	}
	return s.newClaim(at, h, owner, from)
}

// newClaim adds one, unless the store has it already.
func (s *hulls) newClaim(at place, h *hull, owner *person, from civil.Day) error {
	if from == 0 && len(h.owned) > 0 {
		i := slices.IndexFunc(h.owned, func(o tables.Ownership) bool { return o.Customer == owner.ID })
		if i < 0 {
			return refuse("gives boat %q to %q, but it is another customer's; add the day of the sale", h.boat.ID, owner.Name)
		}
		from = h.owned[i].From
	}
	h.claims = append(h.claims, rowClaim{tables.Claim{Customer: owner.ID, From: from}, []place{at}})
	return nil
}

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

// hulls are the boats of one pass, the store's among them as soon as a row may
// mean one.
type hulls struct {
	t       *taking
	byID    map[string]*hull
	byMark  map[string][]*hull // by hull number, registration, or owner and description
	asked   map[string]bool    // marks and owners that were looked up in the store
	byOwner map[string][]*hull
}

func newHulls(t *taking) *hulls {
	return &hulls{t: t, byID: map[string]*hull{}, byMark: map[string][]*hull{}, asked: map[string]bool{}, byOwner: map[string][]*hull{}}
}

// of finds or makes the boat that a row speaks of; nil if it speaks of none.
func (s *hulls) of(at place, l *mapping.Line, owner *person) (*hull, error) {
	says := l.Boat
	says.ID = idOf(says.ID)
	h, err := s.find(says, idOf(l.Registration), owner, l)
	if err != nil {
		return nil, err
	}
	if h == nil {
		if !l.KnowsBoat() {
			return nil, nil
		}
		if says.ID == "" {
			says.ID = naturalBoatID(says, idOf(l.Registration), owner)
		}
		h = s.byID[says.ID]
		if h == nil {
			h = &hull{boat: schedule.Boat{ID: says.ID}}
			s.byID[says.ID] = h
		}
	}
	if !slices.Contains(h.usual, l.Defaults) {
		h.usual = append(h.usual, l.Defaults)
	}
	s.merge(at, h, says)
	s.t.overlay(at, "boat "+h.boat.ID, "winter work", &h.winter, l.WinterWork, len(h.from) > 0)
	s.parts(at, h, l)
	if err := s.claim(at, h, owner, says.SoldOn); err != nil {
		return nil, err
	}
	s.mark(h, owner)
	h.from = append(h.from, at)
	return h, nil
}

// find looks for a boat by id, hull number or registration; else among its
// owner's boats by name, or by make and model. A row that describes no boat
// means the owner's only one.
func (s *hulls) find(says schedule.Boat, registration string, owner *person, l *mapping.Line) (*hull, error) {
	if says.ID != "" {
		return s.load(says.ID)
	}
	for _, mark := range []string{hinMark(says.HIN), registrationMark(registration)} {
		if mark == "" {
			continue
		}
		all, err := s.marked(mark)
		if err != nil {
			return nil, err
		}
		if len(all) > 1 {
			return nil, refuse("%d boats have this number; name the boat by the shop's own id", len(all))
		}
		if len(all) == 1 {
			return all[0], nil
		}
	}
	switch {
	case hin.Identity(says.HIN) != "" || match.PlainRegistration(registration) != "":
		return nil, nil
	case owner != nil:
		return s.ownersBoat(says, owner, l)
	case l.KnowsBoat():
		return nil, refuse("describes a boat without a number that can be read and without an owner; add one of them")
	}
	return nil, nil
}

// ownersBoat looks for a boat among its owner's.
func (s *hulls) ownersBoat(says schedule.Boat, owner *person, l *mapping.Line) (*hull, error) {
	theirs, err := s.theirs(owner)
	if err != nil {
		return nil, err
	}
	var fit []*hull
	for _, h := range theirs {
		switch {
		case !l.KnowsBoat():
		case says.Name != "" && h.boat.Name != "":
			if match.Fold(says.Name) != match.Fold(h.boat.Name) {
				continue
			}
		case differentHulls(says.HIN, h.boat.HIN),
			match.Fold(says.Make+" "+says.Model) != match.Fold(h.boat.Make+" "+h.boat.Model) || says.Year != 0 && h.boat.Year != 0 && says.Year != h.boat.Year:
			continue
		}
		fit = append(fit, h)
	}
	switch {
	case len(fit) == 1:
		return fit[0], nil
	case len(fit) > 1:
		return nil, refuse("customer %q has %d boats that this may be; name it, or add its number", owner.Name, len(fit))
	}
	return nil, nil
}

// differentHulls reports whether two texts tell hulls apart although neither is a
// number of any format: an owner's boats of one make may bear old or foreign ones.
func differentHulls(a, b string) bool {
	return a != "" && b != "" && hin.Identity(a) == "" && hin.Identity(b) == "" && hin.Plain(a) != hin.Plain(b)
}

// theirs returns the boats of an owner, as rows and the store say.
func (s *hulls) theirs(owner *person) ([]*hull, error) {
	if owner.stored.ID != "" && !s.asked["owner "+owner.ID] {
		s.asked["owner "+owner.ID] = true
		all, err := s.t.db.BoatsOf(s.t.ctx, owner.ID)
		if err != nil {
			return nil, err
		}
		for _, b := range all {
			if _, err := s.load(b.ID); err != nil {
				return nil, err
			}
		}
	}
	return s.byOwner[owner.ID], nil
}

func hinMark(s string) string {
	if s = hin.Identity(s); s == "" {
		return ""
	}
	return "hin " + s
}

func registrationMark(s string) string {
	if s = match.PlainRegistration(s); s == "" {
		return ""
	}
	return "registration " + s
}

// marked returns the boats with a mark, those in the store too.
func (s *hulls) marked(mark string) ([]*hull, error) {
	if !s.asked[mark] {
		s.asked[mark] = true
		query, arg := "SELECT id FROM boats WHERE hin <> '' AND hin = ?", mark[len("hin "):]
		if mark[:4] != "hin " {
			query, arg = "SELECT boat_id FROM components WHERE kind = 'registration' AND replace(replace(upper(label), ' ', ''), '-', '') = ?", mark[len("registration "):]
		}
		ids, err := kernel.Collect(s.t.ctx, s.t.db.Read, kernel.FirstText, query, arg)
		if err != nil {
			return nil, err
		}
		for _, id := range ids {
			h, err := s.load(id)
			if err != nil {
				return nil, err
			}
			if !slices.Contains(s.byMark[mark], h) { // the mark of one that was merged into it
				s.byMark[mark] = append(s.byMark[mark], h)
			}
		}
	}
	return s.byMark[mark], nil
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
	s.mark(h, nil)
	if newest := (&tables.Merged{All: h.owned}).Newest(); newest != "" {
		s.byOwner[newest] = append(s.byOwner[newest], h)
	}
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

// mark makes a boat findable by what is known of it.
func (s *hulls) mark(h *hull, owner *person) {
	for _, m := range []string{hinMark(h.boat.HIN), registrationMark(h.register.Label)} {
		if m != "" && !slices.Contains(s.byMark[m], h) {
			s.byMark[m] = append(s.byMark[m], h)
		}
	}
	if owner != nil && !slices.Contains(s.byOwner[owner.ID], h) {
		s.byOwner[owner.ID] = append(s.byOwner[owner.ID], h)
	}
}

// naturalBoatID makes an id from what a boat is known by; one without a number
// that can be read has an owner, see find.
func naturalBoatID(b schedule.Boat, registration string, owner *person) string {
	switch {
	case hin.Identity(b.HIN) != "":
		return hin.Identity(b.HIN)
	case match.PlainRegistration(registration) != "":
		return "R-" + match.PlainRegistration(registration)
	case b.Name != "":
		return "B-" + tables.RowID("boat", owner.ID, match.Fold(b.Name))[:10]
	}
	parts := []string{"boat", owner.ID, match.Fold(b.Make), match.Fold(b.Model), strconv.Itoa(b.Year)}
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

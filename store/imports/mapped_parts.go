package imports

import (
	"cmp"
	"maps"
	"slices"
	"strconv"

	"bellbuoy/schedule"
	"bellbuoy/schedule/hin"
	"bellbuoy/store/imports/columns"
	"bellbuoy/store/imports/mapping"
	"bellbuoy/store/internal/tables"
)

// merge lays what a row says about a boat over what is known.
func (s *hulls) merge(at place, h *hull, says schedule.Boat) {
	said := len(h.from) > 0
	whose := "boat " + h.boat.ID
	if hin.Identity(h.boat.HIN) != "" && hin.Identity(says.HIN) == "" {
		says.HIN = "" // "TBD" replaces no number
	}
	for _, f := range []struct {
		column string
		to     *string
		from   string
	}{
		{"hull number", &h.boat.HIN, says.HIN}, {"name", &h.boat.Name, says.Name}, {"make", &h.boat.Make, says.Make},
		{"model", &h.boat.Model, says.Model}, {"kind", &h.boat.Kind, says.Kind}, {"water", &h.boat.Water, says.Water},
		{"place", &h.boat.Place, says.Place}, {"berth", &h.boat.Berth, says.Berth},
	} {
		if h.merged && *f.to != "" {
			continue
		}
		s.t.overlay(at, whose, f.column, f.to, f.from, said)
	}
	if says.Year != 0 && !(h.merged && h.boat.Year != 0) {
		h.boat.Year = says.Year
	}
	if says.LengthFt != 0 {
		h.boat.LengthFt = says.LengthFt
	}
	if says.WarrantyUntil != 0 {
		h.boat.WarrantyUntil = says.WarrantyUntil
	}
}

// parts lays what a row says about a boat's components over what is known.
func (s *hulls) parts(at place, h *hull, l *mapping.Line) {
	for i := range l.Engines {
		// Hours of an engine that nobody describes still want the engine.
		if e := l.Engines[i]; e.Known() || l.Defaults.Engines[i].Known() && h.engines[i].ID == "" {
			s.engine(at, h, i, e.Component, l.Defaults.Engines[i].Component)
		}
	}
	if l.Trailer != "" {
		h.part(&h.trailer, "trailer", "-T")
		s.t.overlay(at, "boat "+h.boat.ID, "trailer", &h.trailer.Label, l.Trailer, false)
	}
	if l.Registration != "" || l.RegistrationExpires != 0 {
		h.part(&h.register, "registration", "-R")
		s.t.overlay(at, "boat "+h.boat.ID, "registration", &h.register.Label, l.Registration, len(h.from) > 0)
		h.register.Expires = max(h.register.Expires, l.RegistrationExpires)
	}
}

// part makes a component of the boat, once.
func (h *hull) part(p *schedule.Component, kind, suffix string) {
	if p.ID == "" {
		*p = schedule.Component{ID: h.boat.ID + suffix, BoatID: h.boat.ID, Kind: kind, Duty: 100}
	}
}

// engine lays a description over an engine, and what usually holds under it.
func (s *hulls) engine(at place, h *hull, i int, says, usual schedule.Component) {
	e := &h.engines[i]
	fresh := e.ID == ""
	h.part(e, "engine", "-E"+strconv.Itoa(i+1))
	said := !fresh && len(h.from) > 0
	whose := "engine " + e.ID
	for _, f := range []struct {
		column      string
		to          *string
		from, usual string
	}{
		{"label", &e.Label, says.Label, usual.Label}, {"family", &e.Attr.Family, says.Attr.Family, usual.Attr.Family},
		{"propulsion", &e.Attr.Propulsion, says.Attr.Propulsion, usual.Attr.Propulsion},
		{"stroke", &e.Attr.Stroke, says.Attr.Stroke, usual.Attr.Stroke},
		{"fuel", &e.Attr.Fuel, says.Attr.Fuel, usual.Attr.Fuel},
		{"cooling", &e.Attr.Cooling, says.Attr.Cooling, usual.Attr.Cooling},
	} {
		s.t.overlay(at, whose, f.column, f.to, f.from, said)
		if *f.to == "" {
			*f.to = f.usual
		}
	}
	if says.InService != 0 {
		e.InService = says.InService
	}
}

// engineID is the id of an engine, made known if nobody described it.
func (h *hull) engineID(i int) string {
	h.part(&h.engines[i], "engine", "-E"+strconv.Itoa(i+1))
	return h.engines[i].ID
}

func (h *hull) engineCount() int {
	n := 0
	for _, e := range h.engines {
		if e.ID != "" {
			n++
		}
	}
	return n
}

// described returns the boats that rows speak of, by id. One that is not described in
// full goes back with all its rows.
func (s *hulls) described() (all []*hull) {
	for _, id := range slices.Sorted(maps.Keys(s.byID)) {
		if h := s.byID[id]; len(h.from) > 0 && s.complete(h) {
			all = append(all, h)
		}
	}
	return all
}

// complete fills what no row says with what usually holds; a boat for which
// that is not enough goes back with all its rows.
func (s *hulls) complete(h *hull) bool {
	for _, usual := range h.usual {
		h.boat.Kind = cmp.Or(h.boat.Kind, usual.Boat.Kind)
		h.boat.Water = cmp.Or(h.boat.Water, usual.Boat.Water)
		h.boat.Place = cmp.Or(h.boat.Place, usual.Boat.Place)
		h.boat.Berth = cmp.Or(h.boat.Berth, usual.Boat.Berth)
		if h.stored.ID == "" {
			h.winter = cmp.Or(h.winter, usual.WinterWork)
		}
	}
	missing := ""
	switch "" {
	case h.boat.Kind:
		missing = "boat.kind"
	case h.boat.Water:
		missing = "boat.water"
	case h.boat.Place:
		missing = "boat.place"
	case h.boat.Berth:
		missing = "boat.berth"
	}
	if missing == "" {
		if odd := hin.Compare(h.boat.HIN, h.boat.Year); odd != "" {
			s.t.note(h.from[0], odd+"; imported as written, check the hull")
		}
		return true
	}
	for _, at := range h.from {
		s.t.giveBackFor(at, "boat "+h.boat.ID+" is described nowhere, or only on a row that is returned ("+missing+" is not known)")
	}
	return false
}

// give hands a row for each owner to the intake, or one for a boat that the rows give
// to nobody. A stored boat about which the rows bring nothing new is left out.
func (h *hull) give(in *intake, o *origins) error {
	claims := h.claims
	if h.stored.ID != "" {
		claims = h.news()
		if len(claims) == 0 {
			if h.boat == h.stored && (h.winter == "" || h.winter == "yes" == h.stored.WinterWork) {
				return nil
			}
			claims = []rowClaim{h.present()}
		}
	}
	if len(claims) == 0 {
		claims = []rowClaim{{tables.Claim{Customer: "", From: h.boat.SoldOn}, h.from}}
	}
	for _, c := range claims {
		row := columns.Boat{Boat: h.boat, CustomerID: c.Customer, Winter: h.winter}
		row.SoldOn = c.From
		if err := give(in, o, c.rows, &columns.Boats, row.ID, row, in.boat); err != nil {
			return err
		}
	}
	return nil
}

// news are the claims that the store does not know.
func (h *hull) news() (fresh []rowClaim) {
	for _, c := range h.claims {
		known := false
		for _, o := range h.owned {
			known = known || o.Claim == c.Claim
		}
		if !known {
			fresh = append(fresh, c)
		}
	}
	return fresh
}

// present is the stored owner's claim, the shop's if nobody has the boat.
func (h *hull) present() rowClaim {
	if n := len(h.owned); n > 0 {
		last := h.owned[n-1]
		if last.To == 0 {
			return rowClaim{last.Claim, h.from}
		}
		return rowClaim{tables.Claim{Customer: "", From: last.To}, h.from}
	}
	return rowClaim{tables.Claim{Customer: "", From: h.boat.SoldOn}, h.from}
}

// giveParts hands the components that are new or changed to the intake. Engines that
// nobody named are numbered.
func (h *hull) giveParts(in *intake, o *origins) error {
	for i := range h.engines {
		e := &h.engines[i]
		if e.ID != "" && e.Label == "" {
			e.Label = "Engine"
			if h.engineCount() == 2 {
				e.Label += " " + strconv.Itoa(i+1)
			}
		}
	}
	for _, p := range []schedule.Component{h.engines[0], h.engines[1], h.trailer, h.register} {
		if p.ID == "" || h.parts[p.ID] == p {
			continue
		}
		if err := give(in, o, h.from, &columns.Components, p.ID, p, in.component); err != nil {
			return err
		}
	}
	return nil
}

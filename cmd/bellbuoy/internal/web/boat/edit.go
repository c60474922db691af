package boat

import (
	"errors"
	"net/http"
	"net/url"
	"slices"
	"strconv"

	"bellbuoy/cmd/bellbuoy/internal/web/site"
	"bellbuoy/schedule"
	"bellbuoy/store"
)

// editPage changes where a boat is kept, what it is called and what it is.
type editPage struct {
	Boat                         schedule.Boat
	Kinds, Waters, Berths, Place []string
	Form                         string
	Seen                         string // names the boat as the form shows it
	Fault                        string
}

func (s pages) editForm(r *http.Request) (site.Response, error) {
	p, err := s.editPage(r)
	return site.Response{Page: "boat-edit.html", Data: p}, err
}

func (s pages) editPage(r *http.Request) (*editPage, error) {
	b, err := s.App.DB.Boat(r.Context(), r.PathValue("id"))
	return &editPage{
		Boat: b, Kinds: schedule.BoatKinds, Waters: schedule.Waters, Berths: schedule.Berths, Place: s.App.Config.PlaceNames(),
		Form: site.NewForm(), Seen: site.Seen(b),
	}, err
}

func (s pages) edit(r *http.Request) (site.Response, error) {
	p, err := s.editPage(r)
	if err != nil {
		return site.Response{}, err
	}
	b, err := s.readBoat(r, p.Boat)
	if err == nil && r.PostFormValue("seen") != p.Seen {
		err = store.ErrStale
	}
	note := "Saved."
	if err == nil {
		did, e := s.App.ChangeBoat(r.Context(), s.Now(), site.Actor(r), r.PostFormValue("form"), p.Boat, b)
		err, note = e, s.Also(note, &did)
	}
	if errors.Is(err, store.ErrStale) {
		err = site.Correct("Meanwhile somebody changed this boat; its page shows what is on file now. What you typed is below. Save it to put it in place of that.")
	}
	if why, ok := site.Refused(err); ok {
		p.Fault = why.Words()
		return site.Response{Page: "boat-edit.html", Data: p, Refused: why}, nil
	}
	if err != nil {
		return site.Response{}, err
	}
	return site.Response{To: "/boats/" + url.PathEscape(b.ID), Note: note}, nil
}

// readBoat reads the form over what is on file.
func (s pages) readBoat(r *http.Request, was schedule.Boat) (schedule.Boat, error) {
	b := was
	var wrong site.Refusals
	for field, to := range map[string]*string{
		"boat_name": &b.Name, "hin": &b.HIN, "make": &b.Make, "model": &b.Model, "boat_kind": &b.Kind, "water": &b.Water, "place": &b.Place, "berth": &b.Berth,
	} {
		*to = site.Typed(r, field)
	}
	var err error
	if b.Year, err = number(site.Typed(r, "year"), 1850, s.Today().Year()+2); err != nil {
		wrong.Add(site.At("year", "The model year could not be read."))
	}
	b.LengthFt = 0
	if t := site.Typed(r, "length_ft"); t != "" {
		if b.LengthFt, err = strconv.ParseFloat(t, 64); err != nil || b.LengthFt < 4 || b.LengthFt > 200 {
			wrong.Add(site.At("length_ft", "The length could not be read; it is in feet."))
		}
	}
	if b.WarrantyUntil, err = optionalDay(r, "warranty_until"); err != nil {
		wrong.Add(err)
	}
	for _, c := range []struct {
		field, value string
		all          []string
	}{{"boat_kind", b.Kind, schedule.BoatKinds}, {"water", b.Water, schedule.Waters}, {"berth", b.Berth, schedule.Berths}, {"place", b.Place, s.App.Config.PlaceNames()}} {
		if !slices.Contains(c.all, c.value) {
			wrong.Add(site.At(c.field, "Choose one: the plan depends on it."))
		}
	}
	if other, err := s.App.DB.BoatByHIN(r.Context(), b.HIN); err == nil && other.ID != b.ID {
		wrong.Add(site.At("hin", "“"+other.Title()+"” has that HIN on file. If the two are one boat, merge them under Possible duplicates."))
	}
	if b.Name == "" && b.HIN == "" && b.Make == "" {
		wrong.Add(site.At("boat_name", "Give the boat a name, a HIN or a make, so that it can be found."))
	}
	if wrong != nil {
		return b, wrong
	}
	return b, nil
}

// note writes what the desk should know of the boat.
func (s pages) note(r *http.Request) (site.Response, error) {
	id := r.PathValue("id")
	a := site.Response{To: "/boats/" + url.PathEscape(id), Note: "Note saved."}
	typed := site.Typed(r, "note")
	err := s.App.SetBoatNote(r.Context(), s.Now(), site.Actor(r), id, site.Typed(r, "was"), typed)
	if errors.Is(err, store.ErrStale) {
		a, err := s.boat(r)
		a.Refused = site.Refusals{site.At("note", "Meanwhile somebody else wrote a note; it stands at the top of the page. Save again to put yours in its place.")}
		return a, err
	}
	return a, err
}

// partPage adds a component, changes one, or puts a new one in its place.
type partPage struct {
	Boat     schedule.Boat
	Part     schedule.Component  // what the form shows
	Was      *schedule.Component // on file: changed or replaced; nil for a new one
	Replaces bool                // a new one takes the place of Was
	Kinds    []string            // to choose from, of a new one
	Form     string
	Seen     string
	Today    string
	Fault    string

	Propulsions, Strokes, Fuels, Coolings []string
}

// addable are the kinds of component that a form can add.
func addable() []string {
	return slices.DeleteFunc(slices.Clone(schedule.ComponentKinds), func(k string) bool { return k == "hull" })
}

// Runs reports whether the component has the attributes of an engine.
func (p *partPage) Runs() bool {
	return slices.Contains([]string{"engine", "drive", "generator"}, p.Part.Kind)
}

// Dated reports whether the last day of the component's use is printed on it or
// on a paper.
func (p *partPage) Dated() bool {
	return slices.Contains([]string{"flares", "co-alarm", "life-jacket", "registration"}, p.Part.Kind)
}

// Name is what people call the component.
func (p *partPage) Name() string { return label(&p.Part) }

// MadeIn is the year of manufacture, "" if not known.
func (p *partPage) MadeIn() string {
	if p.Part.Made == 0 {
		return ""
	}
	return strconv.Itoa(p.Part.Made.Year())
}

// Brakes are the trailer's, "" for none or not known.
func (p *partPage) Brakes() string { return p.Part.Attr.Get("brakes") }

func (s pages) partForm(r *http.Request) (site.Response, error) {
	p, err := s.partPage(r)
	return site.Response{Page: "boat-part.html", Data: p}, err
}

func (s pages) partPage(r *http.Request) (*partPage, error) {
	f, err := s.App.Facts(r.Context(), r.PathValue("id"))
	if err != nil {
		return nil, err
	}
	p := &partPage{
		Boat: f.Boat, Form: site.NewForm(), Kinds: addable(), Today: s.Today().String(), Replaces: r.FormValue("replaces") != "",
		Propulsions: schedule.Propulsions, Strokes: schedule.Strokes, Fuels: schedule.Fuels, Coolings: schedule.Coolings,
	}
	want := r.FormValue("part")
	if want == "" {
		if p.Part.Kind = r.FormValue("part_kind"); p.Part.Kind != "" && !slices.Contains(p.Kinds, p.Part.Kind) {
			return nil, site.NotFound("A boat has no component of that kind. Go back and choose one of the list.")
		}
		p.Part.Duty = 100
		return p, nil
	}
	k := slices.IndexFunc(f.Components, func(c schedule.Component) bool { return c.ID == want })
	if k < 0 {
		return nil, site.NotFound("That component is not aboard any more: somebody retired or replaced it. The boat's page shows what is.")
	}
	p.Was, p.Part = &f.Components[k], f.Components[k]
	if p.Seen = site.Seen(p.Was); p.Replaces {
		p.Part.InService, p.Part.Made, p.Part.Expires = s.Today(), 0, 0
	}
	return p, nil
}

func (s pages) changePart(r *http.Request) (site.Response, error) {
	p, err := s.partPage(r)
	if err != nil {
		return site.Response{}, err
	}
	c := store.PartChange{BoatID: p.Boat.ID, Was: p.Was}
	note := ""
	switch r.PostFormValue("do") {
	case "save":
		note = "Saved."
		var part schedule.Component
		if part, err = s.readPart(r, p); err != nil {
			break
		}
		if c.Now = &part; p.Replaces {
			part.ID, note = "", "Replaced. The history of the old one stays on the boat's page."
			c.Retired, err = s.retiredOn(r)
		}
	case "retire":
		if p.Was == nil {
			return site.Response{}, site.NewProblem(http.StatusBadRequest, "The form lacks the component it is about. Go back to the boat's page and choose one.")
		}
		note = "Retired. Nothing of it is due any more; its history stays."
		c.Retired, err = s.retiredOn(r)
	default:
		return site.Response{}, site.NewProblem(http.StatusBadRequest, "The form lacks what is to be done. Go back and press one of its buttons.")
	}
	if err == nil && r.PostFormValue("seen") != p.Seen {
		err = store.ErrStale
	}
	if err == nil {
		did, e := s.App.ChangePart(r.Context(), s.Now(), site.Actor(r), r.PostFormValue("form"), c)
		err, note = e, s.Also(note, &did)
	}
	if errors.Is(err, store.ErrStale) || errors.Is(err, store.ErrNotFound) {
		err = site.Correct("Meanwhile somebody changed it. What you typed is below. Save it to put it in place of that.")
	}
	if why, ok := site.Refused(err); ok {
		p.Fault = why.Words()
		return site.Response{Page: "boat-part.html", Data: p, Refused: why}, nil
	}
	if err != nil {
		return site.Response{}, err
	}
	return site.Response{To: "/boats/" + url.PathEscape(p.Boat.ID) + "#parts", Note: note}, nil
}

// unretire takes back that a component is no longer aboard.
func (s pages) unretire(r *http.Request) (site.Response, error) {
	id := r.PathValue("id")
	did, err := s.App.UnretirePart(r.Context(), s.Now(), site.Actor(r), id, r.PostFormValue("part"))
	note := s.Also("Taken back: it is aboard again.", &did)
	if errors.Is(err, store.ErrNotFound) { // pressed twice
		note, err = "It is aboard.", nil
	}
	return site.Response{To: "/boats/" + url.PathEscape(id) + "#parts", Note: note}, err
}

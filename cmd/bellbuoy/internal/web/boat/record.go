package boat

import (
	"errors"
	"net/http"
	"slices"
	"strings"

	"bellbuoy/cmd/bellbuoy/internal/app"
	"bellbuoy/cmd/bellbuoy/internal/web/site"
	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/compression"
	"bellbuoy/schedule/words"
	"bellbuoy/store"
)

// freeJobs is how many jobs outside the visit's list the form has room for.
const freeJobs = 2

// recordPage writes down what was done.
type recordPage struct {
	site.VisitForm
	Day      civil.Day
	Jobs     []recordJob
	Included []string // titles of jobs that another job of the list includes
	Free     []int
	Stock    []store.PartStock // parts that a record may take
	Services []service
	Parts    []component // what a free job or a finding may be about
	Meters   []recordMeter
	Engines  []recordEngine
	Drives   []component
	Battery  []component
	Rules    []compression.Rule
	Lubes    []string
	Changed  bool // the visit is no longer planned as the form showed it; it is taken when somebody saves it again
	Doubted  bool // something about it is doubted; it is taken when somebody says that it is right
}

// recordJob is a job of the visit's list.
type recordJob struct {
	N      int
	Line   schedule.Line
	Done   bool // ticked at first
	Amount schedule.Cents
}

type service struct{ Code, Title string }

type component struct{ ID, Label string }

// recordMeter is an hour meter to read.
type recordMeter struct {
	component
	Last     civil.Day
	Hours    schedule.Hours
	Expected schedule.Hours
}

// recordEngine is an engine whose compression may be tested.
type recordEngine struct {
	component
	Rule string // chosen the last time
}

// lubes are the looks of gear lube, from good to bad.
func lubes() []string { return []string{"clear", "dark", "milky: water in it", "metal in it"} }

func (s pages) recordForm(r *http.Request) (site.Response, error) {
	f, err := s.VisitForm(r)
	if err != nil {
		return site.Response{}, err
	}
	p, err := s.recordPage(r, f)
	return site.Response{Page: "record.html", Data: p}, err
}

// recordPage fills the form.
func (s pages) recordPage(r *http.Request, f site.VisitForm) (*recordPage, error) {
	p := &recordPage{VisitForm: f, Day: s.Today(), Rules: compression.Rules(), Lubes: lubes()}
	facts, err := s.App.Facts(r.Context(), f.Boat.ID)
	if err != nil {
		return nil, err
	}
	before, err := s.App.DB.Measurements(r.Context(), f.Boat.ID)
	if err != nil {
		return nil, err
	}
	p.fillJobs(f.Visit)
	p.fillParts(&facts, before)
	for _, o := range s.App.Planner.HoursOutlook(&facts, s.Today()) {
		if o.Component.Kind != "drive" { // its hours are its engine's
			p.Meters = append(p.Meters, recordMeter{component{o.Component.ID, label(&o.Component)}, o.LastDay, o.LastHours, o.Expected})
		}
	}
	if p.Stock, err = s.App.PartStocks(r.Context()); err != nil {
		return nil, err
	}
	p.Services = s.services()
	for i := range freeJobs {
		p.Free = append(p.Free, i)
	}
	return p, nil
}

// fillJobs lists the visit's jobs. What is only inspected for lack of a history
// is not ticked: a look is no service.
func (p *recordPage) fillJobs(v *schedule.VisitView) {
	if v == nil {
		return
	}
	if b := v.Visit.Booking; b != nil && b.Day < p.Day {
		p.Day = b.Day
	}
	for _, l := range v.Lines {
		switch {
		case l.Item.ByCustomer:
		case l.Included:
			p.Included = append(p.Included, l.Title)
		default:
			p.Jobs = append(p.Jobs, recordJob{N: len(p.Jobs), Line: l, Done: l.Item.Basis != schedule.BasisUnknown, Amount: l.Item.Price})
		}
	}
}

func (p *recordPage) fillParts(f *schedule.Facts, before []store.Measurement) {
	p.Parts = []component{{"", "the whole boat"}, {f.Boat.ID, "the hull"}}
	for i := range f.Components {
		c := &f.Components[i]
		part := component{c.ID, label(c)}
		p.Parts = append(p.Parts, part)
		switch c.Kind {
		case "engine":
			e := recordEngine{component: part}
			k := slices.IndexFunc(before, func(m store.Measurement) bool {
				return m.ComponentID == c.ID && m.Kind == store.MeasureCompression
			})
			if k >= 0 {
				e.Rule = before[k].Rule
			}
			p.Engines = append(p.Engines, e)
			if c.Attr.Propulsion == "outboard" {
				p.Drives = append(p.Drives, part)
			}
		case "drive":
			p.Drives = append(p.Drives, part)
		case "battery":
			p.Battery = append(p.Battery, part)
		}
	}
}

// label names a component for people.
func label(c *schedule.Component) string {
	if c.Label != "" {
		return c.Label
	}
	return words.UpperFirst(c.Kind)
}

// services lists what a record may name, by title.
func (s pages) services() []service {
	cat := s.App.Planner.Catalogue()
	var all []service
	for _, code := range cat.ServiceCodes() {
		all = append(all, service{code, cat.ServiceTitle(code)})
	}
	slices.SortFunc(all, func(x, y service) int { return strings.Compare(strings.ToLower(x.Title), strings.ToLower(y.Title)) })
	return all
}

func (s pages) record(r *http.Request) (site.Response, error) {
	f, err := s.VisitForm(r)
	gone := f.Boat.ID != "" && f.Visit == nil && r.PostFormValue("visit") != ""
	if err != nil && !gone {
		return site.Response{}, err
	}
	if gone {
		r.PostForm.Set("visit", "") // the form goes on as one about no visit
	}
	p, err := s.recordPage(r, f)
	if err != nil {
		return site.Response{}, err
	}
	taken, err := s.App.DB.FormTaken(r.Context(), r.PostFormValue("form"))
	if err != nil {
		return site.Response{}, err
	}
	changed := p.keepJobs(r, s.App.Planner.Catalogue())
	w, err := p.read(r, s.Today(), s.App.Planner.Catalogue(), s.Format())
	switch {
	case taken:
		err = store.ErrSent
	case (gone || changed) && r.PostFormValue("anyway") == "":
		p.Changed, err = true, site.Correct("Meanwhile the visit has changed or is no longer in the plan: somebody recorded work, or it was planned again. Nothing you typed is lost. "+
			"Look at the boat's history, untick what is on record already, and save again.")
	}
	var did app.Change
	if err == nil {
		did, err = s.App.Record(r.Context(), s.Now(), site.Actor(r), r.PostFormValue("form"), &w, r.PostFormValue("sure") != "")
	}
	work := r.PostFormValue("only") == "work"
	if work && (err == nil || errors.Is(err, store.ErrSent)) {
		return s.workDone(r, p, &w, &did, err)
	}
	if errors.Is(err, store.ErrSent) {
		return recordedAt(p, workDay(&w), "This was saved before; nothing is on file twice."), nil
	}
	if all, ok := site.Refused(err); ok {
		p.Fault = all.Words()
		p.Doubted = errors.As(err, new(*app.Doubtful))
		switch {
		case work:
			return site.Response{Page: "work.html", Data: &workPage{p, whereWords(&f), true}, Refused: all}, nil
		case r.PostFormValue("only") == "hours":
			return site.Response{Page: "reading.html", Data: p, Refused: all}, nil
		}
		return site.Response{Page: "record.html", Data: p, Refused: all}, nil
	}
	if err != nil {
		return site.Response{}, err
	}
	note := s.Also("Saved.", &did)
	if len(did.Words(s.Format())) == 0 {
		note += " The days of the plan stay as they were."
	}
	return recordedAt(p, workDay(&w), note), nil
}

func (p *recordPage) partName(id string) string {
	for _, c := range p.Parts {
		if c.ID == id {
			return words.LowerFirst(c.Label)
		}
	}
	return id
}

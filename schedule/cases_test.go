package schedule_test

import (
	"bytes"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/pelletier/go-toml/v2"

	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/rules"
)

// caseFile is one file of testdata/cases: plans of one boat worked out by hand,
// each with its reasoning. README.md there says how to read and write them.
type caseFile struct {
	Catalogue string // "small" is testdata/cases/catalogue.toml, "built-in" the program's own
	Case      []handWorked
}

type handWorked struct {
	Name, Because string
	Today         string
	Sold          string // "" for a boat that we never sold
	Warranty      string
	Berth         string
	Kind          string
	Warm          bool   // a place that does not freeze
	Freeze        string // the first hard freeze of the autumn, by the place's station
	WinterWork    bool   `toml:"winter_work"`
	Components    []handComponent
	Records       []string // "DAY SERVICE [COMPONENT [HOURS]] [shop|elsewhere|before-sale]"
	Readings      []string // "DAY COMPONENT HOURS"
	Owner         []string // rules that the owner sees to
	Booked        []string // "VISIT DAY"
	Items         []handItem
	Extras        *int     // visits between the seasons, where it matters
	Visits        []string // the season visits that there must be
	NoVisits      []string `toml:"no_visits"`
	Windows       []string // "VISIT OPEN CLOSE DEADLINE"
	Days          []string // "VISIT DAY": the day that it is meant for
	Stays         []string // what the first winterization says stays in
	Heard         string   // the owner's last reply
	Lapsed        *bool    // of its visits that nobody has booked
	Labor         map[string]int
	Rate          map[string]float64 // expected hours a season, give or take a tenth of them
}

type handComponent struct {
	ID, Kind                          string
	Propulsion, Stroke, Fuel, Cooling string
	InService, Made, Expires          string
}

type handItem struct {
	Is      string // "COMPONENT RULE"
	Season  int    // 0 for the first occurrence
	Due     string
	Close   string
	Basis   string
	Visit   string   // a visit's id, "extra" for any visit between the seasons, "none" for no visit
	Covered string   // the service that includes it
	Absent  bool     // not in the plan at all
	Price   *int     // cents
	Stays   []string // what the first winterization says stays in
	Labor   *int
	Says    []string // parts of its reason
	SaysNot []string `toml:"says_not"`
}

func TestHandWorkedCases(t *testing.T) {
	eachCase(t, schedule.DefaultSettings(), (*handWorked).check)
}

// eachCase plans every hand-worked case by its catalogue and the settings.
func eachCase(t *testing.T, set schedule.Settings, check func(*handWorked, *testing.T, *schedule.Planner)) {
	t.Helper()
	files, err := filepath.Glob("testdata/cases/[0-9]*.toml")
	if err != nil || len(files) == 0 {
		t.Fatalf("no cases: %v", err)
	}
	builtIn, err := rules.Default()
	if err != nil {
		t.Fatal(err)
	}
	text, err := os.ReadFile("testdata/cases/catalogue.toml")
	if err != nil {
		t.Fatal(err)
	}
	planners := map[string]*schedule.Planner{
		"small":    schedule.NewPlanner(planner(t, string(text)).Catalogue(), set),
		"built-in": schedule.NewPlanner(builtIn, set),
	}
	for _, path := range files {
		t.Run(strings.TrimSuffix(filepath.Base(path), ".toml"), func(t *testing.T) {
			b, err := os.ReadFile(path)
			if err != nil {
				t.Fatal(err)
			}
			var f caseFile
			if err := toml.NewDecoder(bytes.NewReader(b)).DisallowUnknownFields().Decode(&f); err != nil {
				t.Fatal(err)
			}
			pl := planners[f.Catalogue]
			if pl == nil {
				t.Fatalf("catalogue %q", f.Catalogue)
			}
			for i := range f.Case {
				c := &f.Case[i]
				if c.Because == "" {
					t.Errorf("%s has no reasoning", c.Name)
				}
				t.Run(c.Name, func(t *testing.T) { check(c, t, pl) })
			}
		})
	}
}

// facts reads the boat "B1" of a case.
func (c *handWorked) facts() *schedule.Facts {
	f := facts()
	f.Boat.SoldOn, f.Boat.WarrantyUntil = day(c.Sold), day(c.Warranty)
	if c.Berth != "" {
		f.Boat.Berth = c.Berth
	}
	f.Boat.WinterWork = c.WinterWork
	if c.Kind != "" {
		f.Boat.Kind = c.Kind
	}
	if c.Warm {
		f.Place = schedule.Place{Name: "Palm Basin"}
	}
	f.Place.HardFreeze, f.LastContact = day(c.Freeze), day(c.Heard)
	for _, x := range c.Components {
		k := schedule.Component{ID: x.ID, BoatID: "B1", Kind: x.Kind, InService: day(x.InService), Made: day(x.Made), Expires: day(x.Expires),
			Attr: schedule.Attr{Propulsion: x.Propulsion, Stroke: x.Stroke, Fuel: x.Fuel, Cooling: x.Cooling}}
		if x.Kind == "engine" && x.Propulsion == "" {
			k.Attr = engine("E1").Attr
			k.Attr.Stroke = "four"
			if x.Stroke != "" {
				k.Attr.Stroke = x.Stroke
			}
		}
		f.Components = append(f.Components, k)
	}
	if len(f.Components) == 0 {
		f.Components = append(f.Components, engine("E1"))
	}
	for _, s := range c.Records {
		w := strings.Fields(s)
		by := schedule.ByShop
		if last := w[len(w)-1]; slices.Contains(schedule.Doers, last) {
			by, w = last, w[:len(w)-1]
		}
		w = append(w, "", "")
		r := did(w[0], w[1], w[2], w[3])
		r.By = by
		f.Records = append(f.Records, r)
	}
	for _, s := range c.Readings {
		w := strings.Fields(s)
		f.Readings = append(f.Readings, read(w[1], w[0], w[2]))
	}
	for _, rule := range c.Owner {
		f.Overrides = append(f.Overrides, schedule.Override{BoatID: "B1", Rule: rule, ByCustomer: true})
	}
	for _, s := range c.Booked {
		w := strings.Fields(s)
		f.Bookings = append(f.Bookings, schedule.Booking{VisitID: w[0], BoatID: "B1", Kind: strings.Split(w[0], ".")[1], Day: d(w[1]), Minute: -1})
	}
	return f
}

func (c *handWorked) check(t *testing.T, pl *schedule.Planner) {
	f := c.facts()
	p := pl.Plan(f, d(c.Today))
	lines := make(map[string]string) // reason by item key
	view := pl.View(f, &p)
	for i := range view.Visits {
		for _, l := range view.Visits[i].Lines {
			lines[l.Item.Key()] = l.Why
		}
	}
	if k := slices.IndexFunc(view.Visits, func(v schedule.VisitView) bool { return v.Visit.Kind == schedule.LayUp }); c.Stays != nil {
		for _, s := range c.Stays {
			if k < 0 || !slices.Contains(view.Visits[k].Stays, s) {
				t.Errorf("the winterization does not say %q", s)
			}
		}
	}
	for _, l := range view.Loose {
		lines[l.Item.Key()] = l.Why
	}
	for i := range c.Items {
		c.Items[i].check(t, &p, lines)
	}
	if c.Extras != nil && extras(&p) != *c.Extras {
		t.Errorf("%d visits between the seasons, want %d: %s", extras(&p), *c.Extras, ids(&p))
	}
	for _, id := range c.Visits {
		if !slices.ContainsFunc(p.Visits, func(v schedule.Visit) bool { return v.ID == id }) {
			t.Errorf("no %s among %s", id, ids(&p))
		}
	}
	for _, id := range c.NoVisits {
		if slices.ContainsFunc(p.Visits, func(v schedule.Visit) bool { return v.ID == id }) {
			t.Errorf("%s is planned", id)
		}
	}
	for _, s := range c.Windows {
		w := strings.Fields(s)
		v := visit(t, p, w[0])
		if got := v.Open.String() + " " + v.Close.String() + " " + v.Deadline.String(); got != strings.Join(w[1:], " ") {
			t.Errorf("%s is %s, want %s", w[0], got, strings.Join(w[1:], " "))
		}
	}
	for _, s := range c.Days {
		id, want, _ := strings.Cut(s, " ")
		if v := visit(t, p, id); v.Day != d(want) {
			t.Errorf("%s is meant for %s, want %s", id, v.Day, want)
		}
	}
	for _, v := range p.Visits {
		if c.Lapsed != nil && v.Booking == nil && v.Lapsed != *c.Lapsed {
			t.Errorf("%s is lapsed: %t", v.ID, v.Lapsed)
		}
	}
	for id, want := range c.Labor {
		if v := visit(t, p, id); v.Labour != want {
			t.Errorf("%s takes %d minutes, want %d", id, v.Labour, want)
		}
	}
	for _, o := range pl.HoursOutlook(f, d(c.Today)) {
		if want := c.Rate[o.Component.ID]; want != 0 && (o.PerSeason.Float() < want*0.9 || o.PerSeason.Float() > want*1.1) {
			t.Errorf("%s is expected to run %s h a season, want about %v", o.Component.ID, o.PerSeason, want)
		}
	}
	if t.Failed() {
		t.Logf("because: %s", strings.TrimSpace(c.Because))
	}
}

func (x *handItem) check(t *testing.T, p *schedule.BoatPlan, lines map[string]string) {
	var it *schedule.DueItem
	for i := range p.Items {
		if o := &p.Items[i]; o.ComponentID+" "+o.Rule == x.Is && (x.Season == 0 || o.Season == x.Season) && it == nil {
			it = o
		}
	}
	switch {
	case it == nil && !x.Absent:
		t.Errorf("%s is not in the plan", x.Is)
		return
	case it != nil && x.Absent:
		t.Errorf("%s is in the plan, due %s with %q", x.Is, it.Due, it.VisitID)
		return
	case it == nil:
		return
	}
	if x.Due != "" && it.Due != d(x.Due) || x.Close != "" && it.Close != d(x.Close) || x.Basis != "" && string(it.Basis) != x.Basis {
		t.Errorf("%s: due %s until %s by %s, want %s until %s by %s", x.Is, it.Due, it.Close, it.Basis, x.Due, x.Close, x.Basis)
	}
	if got := it.VisitID; x.Visit != "" && got != x.Visit && !(x.Visit == "none" && got == "") && !(x.Visit == "extra" && strings.HasPrefix(got, "B1.extra.")) {
		t.Errorf("%s goes with %q, want %s", x.Is, got, x.Visit)
	}
	if x.Covered != "" && it.CoveredBy != x.Covered {
		t.Errorf("%s is covered by %q, want %q", x.Is, it.CoveredBy, x.Covered)
	}
	if x.Price != nil && int(it.Price) != *x.Price || x.Labor != nil && it.Labour != *x.Labor {
		t.Errorf("%s costs %d cents and %d minutes", x.Is, it.Price, it.Labour)
	}
	for _, s := range x.Says {
		if !strings.Contains(lines[it.Key()], s) {
			t.Errorf("%s: %q does not say %q", x.Is, lines[it.Key()], s)
		}
	}
	for _, s := range x.SaysNot {
		if strings.Contains(lines[it.Key()], s) {
			t.Errorf("%s: %q says %q", x.Is, lines[it.Key()], s)
		}
	}
}

// ids lists a plan's visits for a failure.
func ids(p *schedule.BoatPlan) string {
	var s []string
	for _, v := range p.Visits {
		s = append(s, v.ID+" ("+strings.Join(v.Items, " ")+")")
	}
	return strings.Join(s, ", ")
}

// day reads a day, none for "".
func day(s string) (day civil.Day) {
	if s != "" {
		day = d(s)
	}
	return day
}

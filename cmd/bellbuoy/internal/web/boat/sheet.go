package boat

import (
	"cmp"
	"net/http"
	"slices"
	"strings"

	"bellbuoy/cmd/bellbuoy/internal/web/site"
	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/rules"
	"bellbuoy/schedule/words"
	"bellbuoy/store"
)

// sheetPage is the technicians' paper: one sheet a visit.
type sheetPage struct {
	Sheets []workSheet
	Day    civil.Day // of all sheets of a day, 0 for one sheet
	Back   string
}

// workSheet is the paper for one visit.
type workSheet struct {
	site.VisitForm
	Where   string
	Groups  []sheetGroup
	Legend  []sheetCaution // what the marks beside the jobs mean
	General []string       // cautions that concern every job
	Parts   []rules.Part
	Note    store.BoatNote // what everybody should know of the boat
	Notes   []store.VisitNote
	Answers []schedule.Answer
}

// sheetGroup is what is read and done on one component, in working order.
type sheetGroup struct {
	Name      string
	component string
	Meter     *recordMeter // whose hours are read
	Cylinders []int        // a blank for each whose pressure is measured
	Pressure  bool         // it has cylinders, whose number nobody knows
	Lube      bool         // its gear lube is inspected
	Volts     bool         // its voltage is measured
	Mind      string       // letters of the legend, for what is measured
	Jobs      []sheetJob
}

// sheetJob is one check or job.
type sheetJob struct {
	Title, Last string
	Unknown     bool
	Marks       string     // letters of the legend
	Covers      []sheetJob // jobs that it includes, to tick as well
}

// sheetCaution is a caution with the mark that stands beside its jobs.
type sheetCaution struct{ Mark, Text string }

// whereWords say where a technician finds the boat: at the owner's, with the
// street.
func whereWords(f *site.VisitForm) string {
	at := site.Filled(f.Place.Name, site.BerthWords(f.Boat.Berth))
	switch f.Boat.Berth {
	case "own-dock", "own-lift", "trailer-home":
		at = append(at, site.Filled(f.Owner.Address, f.Owner.City)...)
	}
	return strings.Join(at, ", ")
}

func (s pages) sheet(r *http.Request) (site.Response, error) {
	f, err := s.NeedVisit(r)
	if err != nil {
		return site.Response{}, err
	}
	w, err := s.workSheet(r, f)
	return site.Response{Page: "sheet.html", Data: &sheetPage{Sheets: []workSheet{w}, Back: f.Back}}, err
}

// sheets are the work sheets of all visits that are booked for a day.
func (s pages) sheets(r *http.Request) (site.Response, error) {
	day, err := civil.Parse(r.FormValue("day"))
	if err != nil {
		return site.Response{}, site.NewProblem(http.StatusBadRequest, "The address lacks the day. Days are written like 2027-04-12.")
	}
	p := sheetPage{Day: day, Back: "/?week=" + day.Week().String()}
	visits, err := s.App.BookedFor(r.Context(), day)
	if err != nil {
		return site.Response{}, err
	}
	for _, v := range visits {
		f, err := s.FormAbout(r.Context(), v.BoatID, v.ID)
		if err != nil {
			return site.Response{}, err
		}
		w, err := s.workSheet(r, f)
		if err != nil {
			return site.Response{}, err
		}
		p.Sheets = append(p.Sheets, w)
	}
	return site.Response{Page: "sheet.html", Data: &p}, nil
}

// workSheet fills the paper for one visit.
func (s pages) workSheet(r *http.Request, f site.VisitForm) (workSheet, error) {
	w := workSheet{VisitForm: f, Where: whereWords(&f)}
	rec, err := s.recordPage(r, f)
	if err != nil {
		return w, err
	}
	facts, err := s.App.Facts(r.Context(), f.Boat.ID)
	if err != nil {
		return w, err
	}
	measured, err := s.App.DB.Measurements(r.Context(), f.Boat.ID)
	if err != nil {
		return w, err
	}
	cat := s.App.Planner.Catalogue()
	m := newMarks(cat, &w)
	w.Groups = sheetGroups(f.Visit.Lines, &facts, cat, m, s.Format())
	for i := range w.Groups {
		w.Groups[i].readings(rec, measured)
		w.Groups[i].mind(cat, m)
	}
	w.Legend = m.legend
	w.Parts = sheetParts(f.Visit.Lines, cat)
	if w.Note, err = s.App.DB.BoatNote(r.Context(), f.Boat.ID); err != nil {
		return w, err
	}
	if w.Notes, err = s.App.DB.VisitNotes(r.Context(), f.Boat.ID, f.VisitID()); err != nil || f.Owner.ID == "" {
		return w, err
	}
	all, err := s.App.DB.Answers(r.Context(), []string{f.Owner.ID})
	for _, a := range all[f.Owner.ID] {
		if a.Note != "" && (a.VisitID == f.VisitID() || a.VisitID == "" && a.BoatID == f.Boat.ID) {
			w.Answers = append(w.Answers, a)
		}
	}
	return w, err
}

// readings says what is read and measured on a component: hours, a pressure for
// each cylinder that it had at its last test, the look of the gear lube, volts.
func (g *sheetGroup) readings(rec *recordPage, measured []store.Measurement) {
	for i := range rec.Meters {
		if rec.Meters[i].ID == g.component {
			g.Meter = &rec.Meters[i]
		}
	}
	has := func(all []component) bool {
		return slices.ContainsFunc(all, func(c component) bool { return c.ID == g.component })
	}
	g.Lube, g.Volts = has(rec.Drives), has(rec.Battery)
	if !slices.ContainsFunc(rec.Engines, func(e recordEngine) bool { return e.ID == g.component }) {
		return
	}
	g.Pressure = true
	for _, m := range measured {
		if m.ComponentID == g.component && m.Kind == store.MeasureCompression {
			for n := range m.Figures {
				g.Cylinders = append(g.Cylinders, n+1)
			}
			return
		}
	}
}

// The cautions of what a sheet has blanks for, whether or not its jobs have them: a
// compression test cranks the engine with its plugs out, a battery under a meter
// gives off gas. Their sources are the catalog's.
var (
	pressureCautions = []string{"ignition-off", "prop"}
	voltsCautions    = []string{"battery-gas"}
)

// mind marks the blanks of a component with their cautions.
func (g *sheetGroup) mind(cat *rules.Catalogue, m *marks) {
	var codes []string
	if g.Pressure {
		codes = append(codes, pressureCautions...)
	}
	if g.Volts {
		codes = append(codes, voltsCautions...)
	}
	var texts []string
	for _, c := range cat.Cautions {
		if slices.Contains(codes, c.Code) {
			texts = append(texts, c.Text)
		}
	}
	g.Mind = m.letters(texts)
}

// marks gives each caution of a sheet a letter, in the order in which its jobs
// come.
type marks struct {
	general map[string]bool
	sheet   *workSheet
	legend  []sheetCaution
}

// standing are the codes of the cautions that concern every job: they stand once,
// in one line.
var standing = []string{makerFirst, "local-codes"}

// makerFirst is the caution that every sheet ends with in its own words.
const makerFirst = "maker-first"

func newMarks(cat *rules.Catalogue, w *workSheet) *marks {
	m := &marks{general: make(map[string]bool), sheet: w}
	for _, c := range cat.Cautions {
		if slices.Contains(standing, c.Code) {
			m.general[c.Text] = c.Code != makerFirst
		}
	}
	return m
}

// of returns the letters of a job's cautions.
func (m *marks) of(l *schedule.Line) string { return m.letters(l.Cautions) }

func (m *marks) letters(texts []string) string {
	var letters []string
	for _, text := range texts {
		if add, ok := m.general[text]; ok {
			if add && !slices.Contains(m.sheet.General, text) {
				m.sheet.General = append(m.sheet.General, text)
			}
			continue
		}
		i := slices.IndexFunc(m.legend, func(c sheetCaution) bool { return c.Text == text })
		if i < 0 {
			i = len(m.legend)
			m.legend = append(m.legend, sheetCaution{letter(i), text})
		}
		letters = append(letters, m.legend[i].Mark)
	}
	slices.SortFunc(letters, func(x, y string) int { return cmp.Or(len(x)-len(y), cmp.Compare(x, y)) })
	return strings.Join(letters, " ")
}

// letter is the i-th mark: A to Z, then AA, AB.
func letter(i int) string {
	if i < 26 {
		return string(rune('A' + i))
	}
	return letter(i/26-1) + letter(i%26)
}

// workOrder is the order in which the parts of a boat are worked on: what must
// run first, then what is opened, then what is only inspected. Common practice,
// no source.
var workOrder = []string{"engine", "drive", "generator", "battery", "hull", "trailer", "extinguisher", "flares", "co-alarm", "life-jacket", "registration"}

// sheetGroups puts the lines in working order: by component, looks before
// changes, and each included job under the one that includes it.
func sheetGroups(lines []schedule.Line, f *schedule.Facts, cat *rules.Catalogue, m *marks, in words.Format) []sheetGroup {
	kinds := map[string]string{f.Boat.ID: "hull"}
	for _, c := range f.Components {
		kinds[c.ID] = c.Kind
	}
	names := partNames(f)
	sorted := slices.Clone(lines)
	slices.SortStableFunc(sorted, func(x, y schedule.Line) int {
		return cmp.Or(
			cmp.Compare(slices.Index(workOrder, kinds[x.Item.ComponentID]), slices.Index(workOrder, kinds[y.Item.ComponentID])),
			cmp.Compare(x.Item.ComponentID, y.Item.ComponentID),
			cmp.Compare(looks(cat, y.Item.Rule), looks(cat, x.Item.Rule)))
	})
	var groups []sheetGroup
	homes := coveredBy(sorted)
	for i, l := range sorted {
		if homes[i] >= 0 || l.Item.ByCustomer {
			continue
		}
		name := words.UpperFirst(names[l.Item.ComponentID])
		if len(groups) == 0 || groups[len(groups)-1].Name != name {
			groups = append(groups, sheetGroup{Name: name, component: l.Item.ComponentID})
		}
		g := &groups[len(groups)-1]
		j := sheetJob{Title: plainTitle(&l, names), Unknown: l.Item.Basis == schedule.BasisUnknown, Marks: m.of(&l)}
		if l.Item.LastDay != 0 {
			j.Last = in.ShortDate(l.Item.LastDay)
			if l.Item.HasLastHours {
				j.Last += " at " + in.Hours(l.Item.LastHours) + " h"
			}
		}
		for k, c := range sorted {
			if homes[k] != i {
				continue
			}
			title := plainTitle(&c, names)
			if part := names[c.Item.ComponentID]; c.Item.ComponentID != l.Item.ComponentID && !strings.Contains(strings.ToLower(title), strings.ToLower(part)) {
				title += " (" + part + ")"
			}
			j.Covers = append(j.Covers, sheetJob{Title: title, Marks: m.of(&c)})
		}
		g.Jobs = append(g.Jobs, j)
	}
	return groups
}

// coveredBy finds for each line the one that includes it, -1 for none: of the
// same component if there is one, else the first of that service. A lay-up of
// the engine includes the battery's test.
func coveredBy(lines []schedule.Line) []int {
	homes := make([]int, len(lines))
	for i := range lines {
		homes[i] = -1
		if !lines[i].Included {
			continue
		}
		for k := range lines {
			it := &lines[k].Item
			if it.Service != lines[i].Item.CoveredBy || lines[k].Included || it.ByCustomer {
				continue
			}
			if same := it.ComponentID == lines[i].Item.ComponentID; same || homes[i] < 0 {
				homes[i] = k
				if same {
					break
				}
			}
		}
	}
	return homes
}

// plainTitle is a line's title without the component, which the sheet's heading
// names.
func plainTitle(l *schedule.Line, names map[string]string) string {
	return strings.TrimSuffix(l.Title, " ("+names[l.Item.ComponentID]+")")
}

// looks is 1 for a rule that only looks, so that looking comes first.
func looks(cat *rules.Catalogue, code string) int {
	if r, ok := cat.Rule(code); ok && r.Inspect {
		return 1
	}
	return 0
}

// sheetParts adds up the parts of the jobs that are done, not merely inspected.
func sheetParts(lines []schedule.Line, cat *rules.Catalogue) []rules.Part {
	var out []rules.Part
	for _, l := range lines {
		r, ok := cat.Rule(l.Item.Rule)
		if !ok || l.Item.ByCustomer || l.Item.Basis == schedule.BasisUnknown {
			continue
		}
		for _, part := range r.Parts {
			i := slices.IndexFunc(out, func(p rules.Part) bool { return p.Code == part.Code && p.Unit == part.Unit })
			if i < 0 {
				out = append(out, part)
				continue
			}
			out[i].Add(part.Quantity)
		}
	}
	slices.SortFunc(out, func(x, y rules.Part) int { return strings.Compare(x.Name, y.Name) })
	return out
}

package boat

import (
	"cmp"
	"net/http"
	"slices"
	"strings"

	"bellbuoy/cmd/bellbuoy/internal/web/site"
	"bellbuoy/schedule"
	"bellbuoy/schedule/rules"
	"bellbuoy/schedule/words"
	"bellbuoy/store"
)

// sheetPage is the technician's paper for one visit.
type sheetPage struct {
	site.VisitForm
	Where    string
	Groups   []sheetGroup
	Cautions []sheetCaution
	Parts    []rules.Part
	Meters   []recordMeter
	Engines  []recordEngine
	Drives   []component
	Battery  []component
	Said     []store.Said
	Answers  []schedule.Answer
	Boxes    []int // blanks for the cylinders
}

// sheetGroup is what is done on one component, in working order.
type sheetGroup struct {
	Name string
	Jobs []sheetJob
}

// sheetJob is one check or job.
type sheetJob struct {
	Title, Last string
	Unknown     bool
	Covers      []string // jobs that it includes, to tick as well
}

// sheetCaution is one caution with the jobs that it belongs to.
type sheetCaution struct {
	Text string
	Jobs []string
}

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
	rec, err := s.recordPage(r, f)
	if err != nil {
		return site.Response{}, err
	}
	facts, err := s.App.Facts(r.Context(), f.Boat.ID)
	if err != nil {
		return site.Response{}, err
	}
	p := sheetPage{
		VisitForm: f, Where: whereWords(&f),
		Meters: rec.Meters, Engines: rec.Engines, Drives: rec.Drives, Battery: rec.Battery, Boxes: []int{1, 2, 3, 4, 5, 6, 7, 8},
	}
	p.Groups = sheetGroups(f.Visit.Lines, &facts, s.App.Planner.Catalogue())
	p.Cautions = sheetCautions(f.Visit.Lines, partNames(&facts))
	p.Parts = sheetParts(f.Visit.Lines, s.App.Planner.Catalogue())
	if p.Said, err = s.App.DB.SaidAbout(r.Context(), f.Boat.ID, f.VisitID()); err != nil {
		return site.Response{}, err
	}
	if f.Owner.ID != "" {
		all, err := s.App.DB.Answers(r.Context(), []string{f.Owner.ID})
		if err != nil {
			return site.Response{}, err
		}
		for _, a := range all[f.Owner.ID] {
			if a.Note != "" && (a.VisitID == f.VisitID() || a.VisitID == "" && a.BoatID == f.Boat.ID) {
				p.Answers = append(p.Answers, a)
			}
		}
	}
	return site.Response{Page: "sheet.html", Data: &p}, nil
}

// workOrder is the order in which the parts of a boat are worked on: what must
// run first, then what is opened, then what is only looked at. Common practice,
// no source.
var workOrder = []string{"engine", "drive", "generator", "battery", "hull", "trailer", "extinguisher", "flares", "co-alarm", "life-jacket", "registration"}

// sheetGroups puts the lines in working order: by component, looks before
// changes, and each included job under the one that includes it.
func sheetGroups(lines []schedule.Line, f *schedule.Facts, cat *rules.Catalogue) []sheetGroup {
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
			groups = append(groups, sheetGroup{Name: name})
		}
		g := &groups[len(groups)-1]
		j := sheetJob{Title: plainTitle(&l, names), Unknown: l.Item.Basis == schedule.BasisUnknown}
		if l.Item.LastDay != 0 {
			j.Last = site.ShortDay(l.Item.LastDay)
			if l.Item.HasLastHours {
				j.Last += " at " + l.Item.LastHours.String() + " h"
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
			j.Covers = append(j.Covers, title)
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

// sheetCautions lists each caution once, with its jobs.
func sheetCautions(lines []schedule.Line, names map[string]string) []sheetCaution {
	var out []sheetCaution
	for _, l := range lines {
		if l.Item.ByCustomer {
			continue
		}
		for _, text := range l.Cautions {
			i := slices.IndexFunc(out, func(c sheetCaution) bool { return c.Text == text })
			if i < 0 {
				i, out = len(out), append(out, sheetCaution{Text: text})
			}
			if title := plainTitle(&l, names); !slices.Contains(out[i].Jobs, title) {
				out[i].Jobs = append(out[i].Jobs, title)
			}
		}
	}
	return out
}

// sheetParts adds up the parts of the jobs that are done, not merely looked at.
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

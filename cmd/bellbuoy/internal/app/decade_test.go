package app_test

import (
	"cmp"
	"flag"
	"fmt"
	"maps"
	"math/rand/v2"
	"os"
	"slices"
	"testing"
	"time"

	"bellbuoy/cmd/bellbuoy/internal/app"
	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/store"
)

// The decade is lived by so many boats: 300 in CI, fewer where somebody waits for
// it. 2000 take a while: go test -run 'TestDecade$' -decade 2000 -timeout 4h.
var decadeBoats = flag.Int("decade", map[bool]int{true: 300, false: 40}[os.Getenv("BELLBUOY_CI") == "1"], "boats that live through the ten simulated years")

// TestDecade lets the demo shop live for ten years on a virtual clock. Every
// week its plan is settled; its customers come, forget, or go elsewhere; what
// the visits carry is written down. Whatever happens, nothing that falls due may
// be in no visit, no visit may be without a week while there are hours, and the
// boats that always come must never wait long for anything. lookAtWeeks says what
// the weeks are held to.
func TestDecade(t *testing.T) {
	if testing.Short() {
		t.Skip("ten years take minutes")
	}
	s := newDecade(t, *decadeBoats)
	for n := range 522 {
		if s.week(); n%52 == 51 {
			s.reportMargins()
			t.Logf("%s: %d visits made, %d records, %d items looked at", s.today, s.came, s.records, s.items)
		}
	}
	s.report()
}

// habit is how a simulated owner behaves.
type habit struct {
	comes     float64 // how often they bring the boat when it is planned
	elsewhere float64 // how often they have it done elsewhere when not
	rate      map[string]float64
	hours     map[string]float64 // what each meter shows
}

type decade struct {
	t     testing.TB
	h     *app.App
	rng   *rand.Rand
	today civil.Day
	start civil.Day
	boats map[string]*habit
	ids   []string

	visits, came, extras, moved, told int
	records, unread, items            int
	worst                             map[string]int // by rule: days after its close at which it was done, boats that always come
	waiting                           map[string]civil.Day
	done                              map[string]int

	weekOf  map[string]civil.Week // where each visit lay a week ago
	margins map[int]int           // winterizations that came, by full weeks from their week to the last good one
	early   int                   // of them before the first week for it
	full    int                   // Mondays on which some visit had no hours in time

	// charge says what a line of the shop's work costs; nil for nothing.
	charge func(*schedule.Record)

	declined map[string]bool       // visits that their owners do not want: they have no week
	pins     map[string]civil.Week // visits whose week the desk chose, or a customer who wants to be asked again

	queued  int
	stopped map[string]int // customers who want no mail, with the letters they had
}

func newDecade(t testing.TB, boats int) *decade {
	return liveIn(t, demoApp(t, 3+boats/40, boats, 2, decadeStart), rand.New(rand.NewPCG(7, 7)))
}

// decadeStart is the first day of the decade, a Monday.
var decadeStart = d("2026-11-30")

// liveIn gives each boat of a shop an owner with habits.
func liveIn(t testing.TB, a *app.App, rng *rand.Rand) *decade {
	today := decadeStart
	s := &decade{
		t: t, h: a, rng: rng, today: today, start: today,
		boats: make(map[string]*habit), weekOf: make(map[string]civil.Week), margins: make(map[int]int), worst: make(map[string]int), waiting: make(map[string]civil.Day), done: make(map[string]int),
	}
	err := s.h.DB.EachFacts(t.Context(), nil, func(f *schedule.Facts) error {
		hb := &habit{comes: 0.5 + 0.5*s.rng.Float64(), elsewhere: 0.2, rate: make(map[string]float64), hours: make(map[string]float64)}
		if len(s.boats)%3 == 0 {
			hb.comes = 1
		}
		for _, o := range s.h.Planner.HoursOutlook(f, today) {
			hb.hours[o.Component.ID] = max(o.LastHours.Float(), o.Expected.Float())
			hb.rate[o.Component.ID] = 15 + 90*s.rng.Float64()
		}
		if f.Boat.Gone == 0 {
			s.boats[f.Boat.ID] = hb
			s.ids = append(s.ids, f.Boat.ID)
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// week settles on Monday, looks at every plan, and lets the visits of the week
// happen on Wednesday.
func (s *decade) week() {
	at := s.today.At(3, 0, s.h.Config.Zone())
	done, err := s.h.Settle(s.t.Context(), at, s.today, nil)
	if err != nil {
		s.t.Fatal(err)
	}
	s.moved += done.Moved
	s.told += done.ToldMoved
	if s.declined, err = s.h.DB.DeclinedVisits(s.t.Context(), nil); err != nil {
		s.t.Fatal(err)
	}
	if s.pins, err = s.h.DB.Pins(s.t.Context(), nil); err != nil {
		s.t.Fatal(err)
	}
	s.run()
	comes := make(map[string]bool) // the boats with a visit this week
	for _, v := range s.lookAtWeeks() {
		if s.comesNow(&v) {
			comes[v.BoatID] = true
		}
	}
	for n, id := range s.ids {
		// What must be true of a plan is looked at every fourth week.
		if !comes[id] && (n+int(s.today)/7)%4 != 0 {
			continue
		}
		plan, err := s.h.DB.Plan(s.t.Context(), id)
		if err != nil {
			s.t.Fatal(err)
		}
		s.look(id, &plan)
		for i := range plan.Visits {
			if v := &plan.Visits[i]; s.comesNow(v) {
				s.visit(id, v, &plan)
			}
		}
	}
	s.today += 7
}

// comesNow reports whether a visit is this week's.
func (s *decade) comesNow(v *schedule.Visit) bool {
	return v.Week == s.today.Week() || v.Lapsed && v.Day <= s.today
}

// run lets the meters run on through a week of the season.
func (s *decade) run() {
	_, m, _ := s.today.Date()
	if m < time.May || m > time.September {
		return
	}
	for _, id := range s.ids {
		hb := s.boats[id]
		for e, rate := range hb.rate {
			hb.hours[e] += rate / 22
		}
	}
}

// look holds a boat's plan to what must always be true of it.
func (s *decade) look(id string, p *schedule.BoatPlan) {
	weeks := make(map[string]*schedule.Visit)
	for i := range p.Visits {
		v := &p.Visits[i]
		weeks[v.ID] = v
		if v.Week == 0 && !v.Booked() && !v.Lapsed && !s.declined[v.ID] && v.Day.Week() <= s.today.Week()+70 {
			s.t.Fatalf("%s: %s has no week (open %s, deadline %s)", s.today, v.ID, v.Open, v.Deadline)
		}
	}
	for i := range p.Items {
		it := &p.Items[i]
		if it.ByCustomer || it.Due > s.today+300 {
			continue
		}
		s.items++
		switch it.Basis {
		case schedule.BasisAsk, schedule.BasisDropped, schedule.BasisStored: // a question, or over, or on a round of the yard
			continue
		}
		v := weeks[it.VisitID]
		if v == nil {
			s.t.Fatalf("%s: %s of boat %s falls due %s and no visit carries it", s.today, it.Key(), id, it.Due)
		}
		if s.boats[id].comes == 1 && s.today > s.start+500 && s.today > it.Close+250 {
			s.t.Fatalf("%s: boat %s always comes, and %s, due %s, is still waiting (%s in %s)", s.today, id, it.Key(), it.Due, v.ID, v.Week)
		}
	}
}

// visit lets one visit happen, or not.
func (s *decade) visit(id string, v *schedule.Visit, p *schedule.BoatPlan) {
	hb := s.boats[id]
	s.visits++
	by := schedule.ByShop
	switch {
	case s.rng.Float64() < hb.comes:
		s.came++
		if v.Kind == schedule.Extra {
			s.extras++
		}
		if v.Kind == schedule.LayUp && v.Deadline >= s.today {
			s.margins[int(v.Deadline.Week()-s.today.Week())]++ // one of a lapsed boat has no week
		}
	case v.Day <= s.today && s.rng.Float64() < hb.elsewhere:
		by = schedule.ByElsewhere
	default:
		return
	}
	day := s.today + 2
	w := store.Work{BoatID: id}
	read := make(map[string]bool)
	for i := range p.Items {
		it := &p.Items[i]
		if it.VisitID != v.ID {
			continue
		}
		r := schedule.Record{BoatID: id, ComponentID: it.ComponentID, Day: day, Service: it.Service, By: by}
		if hours, ok := hb.hours[it.ComponentID]; ok && by == schedule.ByShop {
			r.Hours, r.HasHours = schedule.Hours(hours*10), true
			read[it.ComponentID] = true
		}
		if s.charge != nil && by == schedule.ByShop {
			s.charge(&r)
		}
		w.Records = append(w.Records, r)
		s.done[it.Rule]++
		if hb.comes == 1 && s.today > s.start+500 {
			s.late(it, v, int(day-it.Close))
		}
	}
	s.records += len(w.Records)
	s.write(w, v.ID)
}

// late notes how long a boat that always comes had to wait for a job. More than
// a few weeks may only be a winter.
func (s *decade) late(it *schedule.DueItem, v *schedule.Visit, days int) {
	s.worst[it.Rule] = max(s.worst[it.Rule], days)
	if days > 60 && v.Kind != schedule.FitOut {
		s.t.Errorf("%s: %s of %s, which always comes, is done %d days late, in %s", s.today, it.Key(), it.BoatID, days, v.ID)
	}
}

// write records the work; a meter that the invented history has left at odds
// with itself is then not read.
func (s *decade) write(w store.Work, visit string) {
	at := (s.today + 2).At(16, 0, s.h.Config.Zone())
	form := fmt.Sprint(visit, s.today)
	err := s.h.Writer().RecordWork(s.t.Context(), at, "test", form, w)
	if err == nil {
		return
	}
	for i := range w.Records {
		w.Records[i].HasHours, w.Records[i].Hours = false, 0
	}
	s.unread++
	if err2 := s.h.Writer().RecordWork(s.t.Context(), at, "test", form+" without hours", w); err2 != nil {
		s.t.Fatal(err, err2)
	}
}

func (s *decade) report() {
	s.reportMargins()
	s.t.Logf("%d due items looked at, once in four weeks each", s.items)
	years := float64(s.today-s.start) / 365.25 * float64(len(s.ids))
	s.t.Logf("%d boats, ten years: %.2f visits planned and %.2f made a boat and year (%.2f of them extra), %d records, %d visits without a reading",
		len(s.ids), float64(s.visits)/years, float64(s.came)/years, float64(s.extras)/years, s.records, s.unread)
	s.t.Logf("%d moves of pencilled visits, %.3f a boat and week, %d of them told", s.moved, float64(s.moved)/float64(len(s.ids)*522), s.told)
	worst := slices.SortedFunc(maps.Keys(s.worst), func(a, b string) int { return cmp.Compare(s.worst[b], s.worst[a]) })
	for _, rule := range worst[:min(8, len(worst))] {
		s.t.Logf("  at the latest %d days after its last good day: %s (%d times done)", s.worst[rule], rule, s.done[rule])
	}
	if s.came == 0 || float64(s.came)/years > 6 {
		s.t.Errorf("%.2f visits a boat and year", float64(s.came)/years)
	}
	if s.unread*20 > s.came {
		s.t.Errorf("%d of %d visits could not write their hours down", s.unread, s.came)
	}
}

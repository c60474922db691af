package app_test

import (
	"errors"
	"maps"
	"slices"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
	"pgregory.net/rapid"

	"bellbuoy/cmd/bellbuoy/internal/app"
	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/level"
	"bellbuoy/store"
	"bellbuoy/store/outbox"
)

// TestOneChangeAgainstLevellingAll draws single changes and holds what they
// leave against what levelling all weeks again would: the same items fall due, no
// week is over its hours where a visit could go elsewhere, and no more work is
// late.
func TestOneChangeAgainstLevellingAll(t *testing.T) {
	if testing.Short() {
		t.Skip("levels a shop again and again")
	}
	for _, c := range []struct {
		name   string
		crew   int
		enough bool // hours for every visit
	}{{"enough technicians", 2, true}, {"too few", 1, false}} {
		t.Run(c.name, func(t *testing.T) {
			s := &fewBoats{t: t, today: d("2026-08-03"), enough: c.enough}
			s.h = demoApp(t, c.crew, 120, 2, s.today)
			settle(t, s.h, s.today)
			s.tellSome()
			if late := s.late(s.look(t), stored); c.enough != (late == 0) {
				t.Fatalf("%d minutes late before any change", late)
			}
			rapid.Check(t, s.change)
			t.Logf("%d changes settled alone, %d by levelling all; %d told visits stayed", s.alone, s.levelled, s.stayed)
			if s.alone == 0 || s.stayed == 0 || !c.enough && s.levelled == 0 {
				t.Error("the test looks at nothing")
			}
		})
	}
}

// TestBookingsIntoAFullWeekSendOthersOn books boat after boat into the fullest
// week: what is only pencilled there must go at once, not in the night.
func TestBookingsIntoAFullWeekSendOthersOn(t *testing.T) {
	if testing.Short() {
		t.Skip("takes seconds")
	}
	s := &fewBoats{t: t, today: d("2026-08-03")}
	s.h = demoApp(t, 2, 120, 2, s.today)
	settle(t, s.h, s.today)
	start := s.look(t)
	var full civil.Week
	for w := range start.capacity {
		if start.free[w] > start.free[full] || start.free[w] == start.free[full] && w < full {
			full = w
		}
	}
	for _, id := range slices.Sorted(maps.Keys(start.visits)) {
		v := start.visits[id]
		if v.Kind != schedule.Extra || v.Week == full || v.Labour == 0 {
			continue
		}
		b := schedule.Booking{BoatID: v.BoatID, VisitID: id, Kind: v.Kind, Day: full.Monday() + 2, Minute: 600}
		if err := s.h.Writer().Book(t.Context(), s.today.At(10, 0, s.h.Config.Zone()), "test", b, nil, nil); err != nil {
			t.Fatal(err)
		}
		settle(t, s.h, s.today)
		n := s.look(t)
		s.withinHours(t, n)
		if n.free[full] < start.free[full]/2 {
			return
		}
	}
	t.Error("the week never got too full: the test looks at nothing")
}

type fewBoats struct {
	t      *testing.T
	h      *app.App
	today  civil.Day
	enough bool

	alone, levelled, stayed int
	lastGood                map[civil.Day]civil.Week // of deadlines
}

// tellSome writes down that every fifth owner has heard their visit's week.
func (s *fewBoats) tellSome() {
	all := visits(s.t, s.h)
	for n, id := range slices.Sorted(maps.Keys(all)) {
		v := all[id]
		owner, err := s.h.OwnerOf(s.t.Context(), v.BoatID)
		if err != nil {
			s.t.Fatal(err)
		}
		if n%5 != 0 || v.Week == 0 || owner.ID == "" {
			continue
		}
		heard := schedule.Notified{CustomerID: owner.ID, Subject: id, Step: schedule.StepInvitation, On: s.today, Week: v.Week}
		if err := outbox.RecordNotified(s.t.Context(), s.h.Writer(), s.today.At(9, 0, s.h.Config.Zone()), "test", []schedule.Notified{heard}); err != nil {
			s.t.Fatal(err)
		}
	}
	settle(s.t, s.h, s.today)
}

// change makes one change, settles it and looks at what became of it.
func (s *fewBoats) change(t *rapid.T) {
	before := visits(s.t, s.h)
	boat := s.draw(t, before)
	if done := settle(s.t, s.h, s.today); done.Boats > 1 {
		t.Fatalf("%d boats planned for one change", done.Boats)
	}
	s.sameItems(t, boat)
	now := s.look(t)
	alone := true
	for id, v := range now.visits {
		if old, ok := before[id]; ok && v.BoatID != boat && v.Week != old.Week {
			alone = false
		}
	}
	if alone {
		s.alone++
		s.toldStay(t, boat, before, now)
	} else {
		s.levelled++
	}
	s.withinHours(t, now)
	s.noLater(t, boat, before, now)
}

// draw makes one change to one boat and returns the boat.
func (s *fewBoats) draw(t *rapid.T, all map[string]schedule.Visit) string {
	v := all[rapid.SampledFrom(slices.Sorted(maps.Keys(all))).Draw(t, "visit")]
	ctx, at := s.t.Context(), s.today.At(10, 0, s.h.Config.Zone())
	week := s.today.Week() + civil.Week(rapid.IntRange(6, 12).Draw(t, "week")) // the busy autumn
	var err error
	switch rapid.SampledFrom([]string{"record", "record", "record", "book", "pin", "decline"}).Draw(t, "change") {
	case "decline":
		owner, ownerErr := s.h.OwnerOf(ctx, v.BoatID)
		if err = ownerErr; err == nil && owner.ID != "" {
			_, err = s.h.Writer().SaveAnswer(ctx, at, "test", store.NewAnswer{Answer: schedule.Answer{
				CustomerID: owner.ID, BoatID: v.BoatID, VisitID: v.ID, Kind: schedule.AnswerDecline}})
		}
		if err != nil {
			t.Fatal(err)
		}
		fallthrough // an answer alone changes no fact
	case "record":
		service := rapid.SampledFrom([]string{"engine-oil", "impeller", "lay-up", "fit-out"}).Draw(t, "service")
		_, err = s.h.Writer().AddRecord(ctx, at, "test", schedule.Record{BoatID: v.BoatID, Day: s.today, Service: service, By: schedule.ByShop})
	case "book":
		if v.Booked() {
			err = s.h.Writer().Unbook(ctx, at, "test", v.ID, nil, nil)
			break
		}
		err = s.h.Writer().Book(ctx, at, "test", schedule.Booking{BoatID: v.BoatID, VisitID: v.ID, Kind: v.Kind, Day: week.Monday() + 1, Minute: 600}, nil, nil)
	case "pin":
		if rapid.Bool().Draw(t, "let go") {
			week = 0
		}
		if err = s.h.Writer().Pin(ctx, at, "test", v.ID, week); v.Booked() && errors.Is(err, store.ErrStale) {
			err = nil // a booked visit keeps its day
		}
	}
	if err != nil {
		t.Fatal(err)
	}
	return v.BoatID
}

// sameItems asks that what is stored is what planning the boat again says.
func (s *fewBoats) sameItems(t *rapid.T, boat string) {
	f, err := s.h.Facts(s.t.Context(), boat)
	if err != nil {
		t.Fatal(err)
	}
	got, err := s.h.DB.Plan(s.t.Context(), boat)
	if err != nil {
		t.Fatal(err)
	}
	order := cmpopts.SortSlices(func(x, y schedule.DueItem) bool { return x.Key() < y.Key() })
	if diff := cmp.Diff(s.h.Planner.Plan(&f, s.today).Items, got.Items, order); diff != "" {
		t.Fatalf("items of boat %s (-planned anew +stored):\n%s", boat, diff)
	}
}

// weeksNow is what lies in the weeks, and what levelling all again would say.
type weeksNow struct {
	visits      map[string]schedule.Visit
	mine        map[string]bool // the planner chooses their weeks
	fixed, free map[civil.Week]int
	capacity    map[civil.Week]int
	levelled    map[string]civil.Week
}

func (s *fewBoats) look(t rapid.TB) weeksNow {
	ctx := s.t.Context()
	pins, err := s.h.DB.Pins(ctx, nil)
	if err != nil {
		t.Fatal(err)
	}
	declined, err := s.h.DB.DeclinedVisits(ctx, nil)
	if err != nil {
		t.Fatal(err)
	}
	full, err := s.h.Fit(ctx, s.today)
	if err != nil {
		t.Fatal(err)
	}
	n := weeksNow{visits: visits(s.t, s.h), mine: map[string]bool{}, fixed: map[civil.Week]int{}, free: map[civil.Week]int{},
		capacity: map[civil.Week]int{}, levelled: map[string]civil.Week{}}
	for id, v := range n.visits {
		switch {
		case v.Booked():
			n.fixed[v.Booking.Day.Week()] += v.Labour
		case pins[id] != 0:
			n.fixed[v.Week] += v.Labour
		case !v.Lapsed && !declined[id]:
			n.mine[id] = true
			n.free[v.Week] += v.Labour
		case v.Week != 0:
			t.Fatalf("%s takes hours of week %s, lapsed or declined", id, v.Week)
		}
	}
	for _, l := range full.Load {
		n.capacity[l.Week] = l.Capacity[level.Labor]
	}
	for _, p := range full.Placements {
		n.levelled[p.ID] = p.Week
		v := n.visits[p.ID]
		// In the deadline's own week the hours of its days until then may be taken.
		if p.Late && p.Week == min(v.Deadline, v.Close).Week() {
			continue
		}
		if n.mine[p.ID] && p.Week != 0 && v.Deadline >= s.today && p.Late == s.inTime(&v, p.Week) {
			t.Fatalf("%s in week %s by %s: late is %v, and this test thinks otherwise (%s to %s; %s)", p.ID, p.Week, v.Deadline, p.Late, v.Open, v.Close, p.Why)
		}
	}
	return n
}

// inTime reports whether a visit in a week can be done by its deadline: in a week
// in which the shop still works by then.
func (s *fewBoats) inTime(v *schedule.Visit, w civil.Week) bool {
	d := min(v.Deadline, v.Close)
	last, ok := s.lastGood[d]
	if !ok {
		last = lastGoodWeek(s.t, s.h, d)
		if s.lastGood == nil {
			s.lastGood = make(map[civil.Day]civil.Week)
		}
		s.lastGood[d] = last
	}
	return w != 0 && w >= max(v.Open.Week(), s.today.Week()) && w <= last
}

// late adds up the minutes of what misses its deadline under these weeks.
// What was overdue before, or lies too far ahead to have a week, does not count.
func (s *fewBoats) late(n weeksNow, week func(v *schedule.Visit) civil.Week) int {
	sum := 0
	for id, v := range n.visits {
		if n.mine[id] && s.counts(&v) && !s.inTime(&v, week(&v)) {
			sum += v.Labour
		}
	}
	return sum
}

func (s *fewBoats) counts(v *schedule.Visit) bool {
	return v.Deadline.Week() >= s.today.Week() && v.Open.Week() < s.today.Week()+70
}

// withinHours asks that a week that is over its hours holds nothing that could
// go elsewhere.
func (s *fewBoats) withinHours(t rapid.TB, n weeksNow) {
	for w, c := range n.capacity {
		if n.free[w] > 0 && n.fixed[w]+n.free[w] > c {
			t.Fatalf("week %s has %d minutes; %d are fixed and %d pencilled", w, c, n.fixed[w], n.free[w])
		}
	}
}

// toldStay asks that a visit whose owner knows the week keeps it while it can.
func (s *fewBoats) toldStay(t *rapid.T, boat string, before map[string]schedule.Visit, n weeksNow) {
	for id, v := range n.visits {
		old := before[id]
		if v.BoatID != boat || !old.Told || !n.mine[id] || !s.inTime(&v, old.Week) {
			continue
		}
		// In the deadline's own week only the hours of the days until then count.
		if v.Week != old.Week && old.Week == min(v.Deadline, v.Close).Week() {
			continue
		}
		if v.Week == old.Week {
			s.stayed++
		} else if n.fixed[old.Week]+n.free[old.Week]+v.Labour <= n.capacity[old.Week] {
			t.Fatalf("%s, told for %s, went to %s (%s to %s, deadline %s; %s)", id, old.Week, v.Week, v.Open, v.Close, v.Deadline, v.WeekWhy)
		}
	}
}

// noLater asks that in a shop with enough hours nothing is late that levelling
// all would bring in time. In one without, a late visit of the changed boat
// keeps the week that it had or is late after levelling all too; what else could
// be in time now waits for the night.
func (s *fewBoats) noLater(t *rapid.T, boat string, before map[string]schedule.Visit, n weeksNow) {
	levelled := func(v *schedule.Visit) civil.Week { return n.levelled[v.ID] }
	if s.enough {
		if got, want := s.late(n, stored), s.late(n, levelled); got > want {
			t.Fatalf("%d minutes late, after levelling all %d", got, want)
		}
		return
	}
	for id, v := range n.visits {
		if v.BoatID != boat || !n.mine[id] || !s.counts(&v) || s.inTime(&v, v.Week) {
			continue
		}
		if (v.Week == 0 || v.Week != before[id].Week) && s.inTime(&v, n.levelled[id]) {
			t.Fatalf("%s is late in %s, was in %s, and after levelling all in %s", id, v.Week, before[id].Week, n.levelled[id])
		}
	}
}

func stored(v *schedule.Visit) civil.Week { return v.Week }

package app_test

import (
	"cmp"
	"maps"
	"slices"
	"strings"

	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/level"
)

// lookAtWeeks holds the weeks of a settled plan to what they should be: nothing
// late while a week in its time has hours for it, no winterization before the first
// week for it while a later one stays within the target, and no visit of its own
// for what a season visit carries. It returns the visits.
func (s *decade) lookAtWeeks() map[string]schedule.Visit {
	first := s.today.Week()
	weeks, err := s.h.CapacityLeft(s.t.Context(), s.today, first, first+78)
	if err != nil {
		s.t.Fatal(err)
	}
	all := visits(s.t, s.h)
	has, taken := make(map[civil.Week]level.Amounts), make(map[civil.Week]level.Amounts)
	for i := range weeks {
		has[weeks[i].Week] = weeks[i].Total()
	}
	for _, v := range all {
		week := v.Week
		if v.Booked() {
			week = v.Booking.Day.Week()
		}
		taken[week] = taken[week].Plus(v.Needs())
	}
	season := make(map[string][]schedule.Visit)
	short := false
	for _, id := range slices.Sorted(maps.Keys(all)) {
		v := all[id]
		if v.Kind != schedule.Extra {
			season[v.BoatID] = append(season[v.BoatID], v)
		}
		// The week of the deadline itself has only its days until then.
		last := min(v.Deadline, v.Close).Week() - 1
		if !v.Lapsed && !v.Booked() && !s.declined[id] && s.pins[id] == 0 && v.Deadline >= s.today && (v.Week == 0 || v.Week > last+1) && last < first+78 {
			short = true
			for w := max(v.Open.Week(), first); w <= last; w++ {
				if left := has[w].Less(taken[w]); left.Covers(v.Needs()) {
					s.t.Errorf("%s: %s (needs %v, by %s) lies in %q (%+v) while week %s has %v left", s.today, id, v.Needs(), v.Deadline, v.Week, v.WeekWhy, w, left)
				}
			}
		}
		if v.Kind == schedule.LayUp && v.Week != 0 && v.Week != s.weekOf[id] && v.Deadline >= s.today {
			s.notBefore(&v, has, taken)
		}
	}
	if short {
		s.full++
	}
	s.weekOf = make(map[string]civil.Week, len(all))
	for id, v := range all {
		s.weekOf[id] = v.Week
		if v.Kind == schedule.Extra && !v.Lapsed && !v.Booked() && !s.declined[id] {
			s.needed(&v, season[v.BoatID])
		}
	}
	return all
}

// notBefore asks of a winterization that is new in a week before the first one for
// it that no week from that on has room for it under the target.
func (s *decade) notBefore(v *schedule.Visit, has, taken map[civil.Week]level.Amounts) {
	set := &s.h.Config.Weeks
	by := min(v.Deadline, v.Day).Week()
	if v.Week >= by-civil.Week(set.LayUpFirst)-1 { // a week less where the deadline's own has no hours
		return
	}
	s.early++
	for w := by - civil.Week(set.LayUpFirst); w < by; w++ {
		calm := has[w]
		for r := range calm {
			calm[r] = int(float64(calm[r]) * set.Target)
		}
		if calm.Less(taken[w]).Covers(v.Needs()) {
			s.t.Errorf("%s: %s (needs %v, by %s) comes in week %s while week %s holds %v of %v", s.today, v.ID, v.Needs(), v.Deadline, v.Week, w, taken[w], has[w])
		}
	}
}

// needed asks of an extra visit that none of its items falls into the time of a
// season visit of its boat, two weeks of it at least, and without cutting the summer
// by more than two.
func (s *decade) needed(v *schedule.Visit, season []schedule.Visit) {
	plan, err := s.h.DB.Plan(s.t.Context(), v.BoatID)
	if err != nil {
		s.t.Fatal(err)
	}
	layUpDay := make(map[string]civil.Day) // of the places, by visit
	for i := range plan.Items {
		if it := &plan.Items[i]; it.Basis == schedule.BasisSeason {
			layUpDay[it.VisitID] = it.Due
		}
	}
	for i := range plan.Items {
		it := &plan.Items[i]
		if it.VisitID != v.ID || it.Close < s.today || it.CoveredBy != "" {
			continue
		}
		r, ok := s.h.Planner.Catalogue().Rule(it.Rule)
		for k := range season {
			o := &season[k]
			if !ok || !slices.Contains(r.RideAlong, o.Kind) || o.Deadline < s.today {
				continue
			}
			from, to := max(it.Open, o.Open, s.today), min(it.Close, o.Close)
			if to-from >= 14 && (o.Kind != schedule.LayUp || to >= layUpDay[o.ID]-14) {
				s.t.Errorf("%s: %s of %s, %s to %s, has a visit of its own beside %s, %s to %s", s.today, it.Key(), v.BoatID, it.Open, it.Close, o.ID, o.Open, o.Close)
			}
		}
	}
}

// reportMargins tells how long before their last good week winterizations came.
func (s *decade) reportMargins() {
	n := 0
	for _, k := range s.margins {
		n += k
	}
	for _, w := range slices.SortedFunc(maps.Keys(s.margins), func(a, b int) int { return cmp.Compare(b, a) }) {
		s.t.Logf("  winterized %2d weeks before the deadline's: %5d %s", w, s.margins[w], strings.Repeat("#", (60*s.margins[w]+n/2)/max(n, 1)))
	}
	s.t.Logf("%d winterizations in time, %d penciled before the first week for them; on %d of %d Mondays some visit had no hours in time", n, s.early, s.full, int(s.today-s.start)/7)
}

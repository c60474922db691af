package app

import (
	"context"
	"fmt"
	"reflect"
	"slices"

	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/words"
	"bellbuoy/store"
)

// Check looks the shop over and returns what is wrong, in words: faults of the
// database file and its outbox, of the rules and the backups, boats at places that the settings do not name,
// booked days that passed without a record, boats whose stored plan is not what a fresh one would say, and boats that
// a winter would find with neither a winterization on record nor one planned.
func (a *App) Check(ctx context.Context, today civil.Day) ([]string, error) {
	findings, err := a.DB.Check(ctx)
	if err != nil {
		return nil, err
	}
	for _, f := range a.Planner.Catalogue().Check() {
		findings = append(findings, f.String())
	}
	findings = append(findings, a.Config.Renamed...)
	if len(a.Config.Weeks.Technicians) == 0 {
		findings = append(findings, "settings: no technician, so no week has hours available; add [[weeks.technician]] blocks")
	}
	kept, err := a.checkBackups(ctx, today)
	if err != nil {
		return nil, err
	}
	full, err := a.checkWeeks(ctx, today)
	if err != nil {
		return nil, err
	}
	findings = append(append(findings, kept...), full...)
	boats, stale, err := a.checkBoats(ctx, today)
	if err != nil {
		return nil, err
	}
	findings = append(findings, boats...)
	planned, err := a.PlannedFor(ctx, today)
	if err != nil {
		return nil, err
	}
	refill, err := a.checkRefill(ctx, today)
	return append(append(findings, stalePlans(stale, planned)...), refill...), err
}

// checkBoats checks every boat's facts and bookings, and names the boats whose stored
// plan is not what their facts give today.
func (a *App) checkBoats(ctx context.Context, today civil.Day) (findings, stale []string, err error) {
	known := a.Config.PlaceNames()
	places, err := a.Places(ctx)
	if err != nil {
		return nil, nil, err
	}
	declined, err := a.DB.DeclinedVisits(ctx, nil)
	if err != nil {
		return nil, nil, err
	}
	here, err := a.DB.InYard(ctx)
	if err != nil {
		return nil, nil, err
	}
	err = a.DB.EachFacts(ctx, nil, func(f *schedule.Facts) error {
		if !slices.Contains(known, f.Boat.Place) {
			findings = append(findings, fmt.Sprintf("boat %q: place %q is not in the settings, so the boat has no seasons", f.Boat.ID, f.Boat.Place))
		}
		f.Place = places.Of(f.Boat.Place)
		stored, err := a.DB.Plan(ctx, f.Boat.ID)
		if err != nil {
			return err
		}
		findings = append(append(findings, passedDays(stored.Visits, declined, here, today, a.Config.Format())...), strayBookings(f, &stored, today, a.Config.Format())...)
		fresh := a.Planner.Plan(f, today)
		if !samePlan(&stored, &fresh) {
			stale = append(stale, f.Boat.ID)
		}
		if a.Planner.LeftToFreeze(f, &fresh, today) {
			findings = append(findings, fmt.Sprintf("boat %q: no winterization is on record for this winter, and none is planned", f.Boat.ID))
		}
		return nil
	})
	return findings, stale, err
}

// checkRefill says, before the first plan after an update that fills weeks
// otherwise, how many visits it moves.
func (a *App) checkRefill(ctx context.Context, today civil.Day) ([]string, error) {
	refill, err := a.toRefill(ctx)
	if err != nil || !refill {
		return nil, err
	}
	w, err := a.Fit(ctx, today)
	if err != nil || w.Moved == 0 {
		return nil, err
	}
	told := 0
	for _, v := range w.byID {
		if v.Told && !v.Booked() {
			told++
		}
	}
	return []string{fmt.Sprintf("weeks: an earlier version penciled the visits in; the next plan moves %d of them closer to the week that suits each. Of the %d whose customers were told a week, %d must move; nothing is sent because of the others",
		w.Moved, told, w.ToldMoved)}, nil
}

// passedDays words which booked days of a boat have passed without a record of
// the work, but for visits that their owners do not want and of boats that are
// still here.
func passedDays(visits []schedule.Visit, declined map[string]bool, here map[string]store.Stage, today civil.Day, in words.Format) []string {
	var out []string
	for i := range visits {
		v := &visits[i]
		if day := v.DayPassed(today); day != 0 && !declined[v.ID] && !here[v.ID].InYard() {
			out = append(out, fmt.Sprintf("boat %q: %s was booked for %s and no work is recorded; record it, or book another day",
				v.BoatID, schedule.VisitTitle(v.Kind), in.Date(day)))
		}
	}
	return out
}

// strayBookings words which booked days to come have no visit in the plan: its
// work was recorded under another one.
func strayBookings(f *schedule.Facts, stored *schedule.BoatPlan, today civil.Day, in words.Format) []string {
	var out []string
	for _, b := range f.Bookings {
		planned := slices.ContainsFunc(stored.Visits, func(v schedule.Visit) bool { return v.ID == b.VisitID })
		if b.Day > today && !planned {
			out = append(out, fmt.Sprintf("boat %q: %s is booked for %s, and its plan has no such visit any more; cancel that day (\"bellbuoy book %s %s --off\") or record what it was for",
				b.BoatID, schedule.VisitTitle(b.Kind), in.Date(b.Day), b.BoatID, b.VisitID))
		}
	}
	return out
}

// stalePlans words which boats' plans are not what they should be. A plan of
// another day or of other settings is no fault of any boat.
func stalePlans(boats []string, planned bool) []string {
	switch {
	case len(boats) == 0:
		return nil
	case !planned:
		return []string{fmt.Sprintf("plan: made on another day or under other settings, and different today for %d of the boats; \"bellbuoy serve\" plans again when it starts, and so does every change", len(boats))}
	}
	var out []string
	for _, id := range boats[:min(10, len(boats))] {
		out = append(out, fmt.Sprintf("boat %q: the stored plan differs from a fresh one of today", id))
	}
	if len(boats) > 10 {
		out = append(out, fmt.Sprintf("and %d more boats whose stored plan differs", len(boats)-10))
	}
	return out
}

// samePlan compares two plans by what they say is due and when.
func samePlan(a, b *schedule.BoatPlan) bool {
	type line struct {
		key   string
		due   civil.Day
		visit string
	}
	lines := func(p *schedule.BoatPlan) map[line]int {
		m := make(map[line]int)
		for i := range p.Items {
			it := &p.Items[i]
			m[line{it.Key(), it.Due, it.VisitID}]++
		}
		return m
	}
	return reflect.DeepEqual(lines(a), lines(b))
}

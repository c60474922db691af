package app

import (
	"context"
	"encoding/json"
	"fmt"
	"maps"
	"slices"
	"strings"
	"time"

	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/level"
	"bellbuoy/schedule/words"
	"bellbuoy/store"
	"bellbuoy/store/report"
)

// Late says which visits will miss their deadline: because the shop lacks hours, as all
// weeks were fitted last, less those that were booked, done or declined since, or
// because the desk chose a week for them.
type Late struct {
	Visits []string   // ids, the most urgent of a week first, then those of Chosen
	Weeks  []LateWeek // that are short, in order of time
	Chosen []string   // ids of those that the desk put into a week after their deadline
}

// LateWeek is a week that would hold more than its hours if every visit were in
// time.
type LateWeek struct {
	Week   civil.Week  `json:"week"`
	Short  int         `json:"short"`           // minutes of the technicians
	Yard   int         `json:"yard,omitempty"`  // minutes of the yard crew
	Lifts  int         `json:"lifts,omitempty"` // moves of the lift
	Visits []LateVisit `json:"visits"`          // that are counted here, the most urgent first; none if booked work alone is too much
}

// LateVisit is a visit that will miss its deadline.
type LateVisit struct {
	ID     string `json:"id"`
	Labour int    `json:"labour"` // minutes
	Yard   int    `json:"yard,omitempty"`
	Lifts  int    `json:"lifts,omitempty"`
}

// Lacks says what a week is short of: "31 h", "2.5 h of the yard crew and 3 lifts".
func (w *LateWeek) Lacks(in words.Format) string {
	var out []string
	if w.Short > 0 {
		out = append(out, in.Labor(w.Short)+" h")
	}
	if w.Yard > 0 {
		out = append(out, in.Labor(w.Yard)+" h of the yard crew")
	}
	if w.Lifts > 0 {
		out = append(out, words.Plural(w.Lifts, "lift", "lifts"))
	}
	return strings.Join(out, " and ")
}

// mostWeeksNamed is how many short weeks a sentence names.
const mostWeeksNamed = 3

// Words says which weeks are short and by how much: "The weeks of Sep 21 and Sep
// 28 are 31 h short."; "" if none is.
func (l *Late) Words(in words.Format) string {
	var all LateWeek
	var days []string
	for _, w := range l.Weeks {
		all.Short, all.Yard, all.Lifts = all.Short+w.Short, all.Yard+w.Yard, all.Lifts+w.Lifts
		days = append(days, in.ShortMonthDay(w.Week.Monday()))
	}
	hours := all.Lacks(in) + " short."
	switch n := len(days); {
	case n == 0:
		return ""
	case n == 1:
		return "The week of " + days[0] + " is " + hours
	case n > mostWeeksNamed:
		return fmt.Sprintf("%d weeks, from %s to %s, are %s", n, days[0], days[n-1], hours)
	default:
		return "The weeks of " + strings.Join(days[:n-1], ", ") + " and " + days[n-1] + " are " + hours
	}
}

// settingShort names the setting that keeps which weeks are short.
const settingShort = "weeks-short"

// keepShort keeps which weeks are short, so that every page can say it without
// fitting all visits again.
func (a *App) keepShort(ctx context.Context, w *Weeks) error {
	kept, err := json.Marshal(shortWeeks(w))
	if err != nil {
		return err
	}
	return a.db.SetSetting(ctx, settingShort, kept)
}

func shortWeeks(w *Weeks) []LateWeek {
	var out []LateWeek
	for _, s := range w.Short {
		week := LateWeek{Week: s.Week, Short: s.Over[level.Labor], Yard: s.Over[level.Yard], Lifts: s.Over[level.Lifts]}
		for _, v := range w.Of(s.Jobs) {
			week.Visits = append(week.Visits, LateVisit{v.ID, v.Labour, v.Yard, v.Lifts})
		}
		out = append(out, week)
	}
	return out
}

// keptShort reads it: none in a shop whose weeks were not all fitted since this is kept.
func (a *App) keptShort(ctx context.Context) (weeks []LateWeek, err error) {
	kept, err := a.DB.Setting(ctx, settingShort)
	if isNotFound(err) {
		return nil, nil
	}
	if err == nil {
		err = json.Unmarshal(kept, &weeks)
	}
	if err != nil {
		return nil, fmt.Errorf("read which weeks are short: %w", err)
	}
	return weeks, nil
}

// Late reads which visits will miss their deadline.
func (a *App) Late(ctx context.Context, today civil.Day) (Late, error) {
	weeks, err := a.keptShort(ctx)
	if err != nil {
		return Late{}, err
	}
	var out Late
	chosen, err := a.pinnedLate(ctx, false, nil)
	if err != nil {
		return Late{}, err
	}
	for i := range chosen {
		if v := &chosen[i].Visit; v.Deadline >= today {
			out.Chosen = append(out.Chosen, v.ID)
		}
	}
	still, err := a.stillLate(ctx, weeks)
	if err != nil {
		return Late{}, err
	}
	for _, id := range out.Chosen {
		delete(still, id)
	}
	for _, w := range weeks {
		had := len(w.Visits)
		w.Visits = slices.DeleteFunc(w.Visits, func(v LateVisit) bool {
			if !still[v.ID] {
				w.Short, w.Yard, w.Lifts = w.Short-v.Labour, w.Yard-v.Yard, w.Lifts-v.Lifts
			}
			return !still[v.ID]
		})
		if w.Week < today.Week() || max(w.Short, w.Yard, w.Lifts) <= 0 || had > 0 && len(w.Visits) == 0 {
			continue
		}
		for _, v := range w.Visits {
			out.Visits = append(out.Visits, v.ID)
		}
		out.Weeks = append(out.Weeks, w)
	}
	out.Visits = append(out.Visits, out.Chosen...)
	return out, nil
}

// pinnedLate returns the visits of some boats, nil for all, that the desk or a customer's
// wish has in a week in which nobody works by their deadline, in order of deadline.
func (a *App) pinnedLate(ctx context.Context, byCustomer bool, boatIDs []string) ([]store.Pinned, error) {
	all, err := a.DB.PinnedLast(ctx, byCustomer, boatIDs)
	if err != nil || len(all) == 0 {
		return nil, err
	}
	first, last := all[0].Week, all[0].Week
	for _, p := range all {
		first, last = min(first, p.Week), max(last, p.Week)
	}
	weeks, err := a.Capacity(ctx, first, last)
	return slices.DeleteFunc(all, func(p store.Pinned) bool {
		return weeks[p.Week-first].Through(p.Visit.Deadline)[level.Labor] > 0
	}), err
}

// letGoLate lets the weeks go that customers' wishes keep though nobody works in them by the
// deadlines that the visits of some boats, nil for all, have now. Each goes to the last
// week in time that has room, which is as near as it can come to the day that its customer
// named; without one the planner chooses.
func (a *App) letGoLate(ctx context.Context, now time.Time, today civil.Day, boatIDs []string) error {
	late, err := a.pinnedLate(ctx, true, boatIDs)
	for i := range late {
		p := &late[i]
		to, err := a.lastWeek(ctx, &p.Visit, today)
		if err != nil {
			return err
		}
		if err := a.db.LetWeekGo(ctx, now, "bellbuoy", &p.Visit, store.LetGo{Kept: p.Week, Deadline: p.Visit.Deadline, To: to}); err != nil {
			return err
		}
	}
	return err
}

// stillLate returns which of the visits of weeks are late still.
func (a *App) stillLate(ctx context.Context, weeks []LateWeek) (map[string]bool, error) {
	var ids []string
	for _, w := range weeks {
		for _, v := range w.Visits {
			ids = append(ids, v.ID)
		}
	}
	boats, err := report.StillLate(ctx, a.DB, ids)
	if err != nil || len(boats) == 0 {
		return nil, err
	}
	declined, err := a.DB.DeclinedVisits(ctx, slices.Collect(maps.Values(boats)))
	late := make(map[string]bool)
	for id := range boats {
		late[id] = !declined[id]
	}
	return late, err
}

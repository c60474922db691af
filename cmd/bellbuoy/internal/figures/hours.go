package figures

import (
	"context"
	"slices"

	"bellbuoy/cmd/bellbuoy/internal/app"
	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/level"
	"bellbuoy/store/report"
)

// weeksShown is how many weeks back and how many ahead the workload shows.
const weeksShown = 13

// WorkWeek is one shop week: what was sold in it, or what stands in it.
type WorkWeek struct {
	Week     civil.Week `json:"week"`
	Capacity int        `json:"capacity"` // minutes to sell
	// Sold is the catalogue's time for the work on record of a past week;
	// Ahead the labour of visits booked or pencilled, from the running week on.
	Sold  Figure `json:"sold"`
	Ahead Figure `json:"ahead"`
	// Booked is the minutes of Ahead whose day is booked.
	Booked int `json:"booked_minutes"`
	// Parts is what the parts of Ahead cost the shop: kinds of part and amount.
	Parts Figure `json:"parts"`
}

// Workload is labour against capacity.
type Workload struct {
	Weeks  []WorkWeek   `json:"weeks"`
	Checks []CheckTally `json:"checks"`
	Parts  PartsAhead   `json:"parts"`
}

// Workload adds up labour by week, and says how the warranty checks went.
func (l *Ledger) Workload(ctx context.Context) (*Workload, error) {
	visits, err := report.AheadVisits(ctx, l.shop.DB)
	if err != nil {
		return nil, err
	}
	return l.workload(ctx, visits)
}

// workload does so from the visits ahead.
func (l *Ledger) workload(ctx context.Context, visits []report.AheadVisit) (*Workload, error) {
	now := l.Today.Week()
	from, to := now-weeksShown, now+weeksShown
	w := &Workload{}
	capacity, err := l.shop.Capacity(ctx, from, to)
	if err != nil {
		return nil, err
	}
	for _, c := range capacity {
		w.Weeks = append(w.Weeks, WorkWeek{
			Week: c.Week, Capacity: c.Total()[level.Labor],
			Sold:  Figure{List: Query{List: ListHours, Week: c.Week}},
			Ahead: Figure{List: Query{List: ListVisits, Week: c.Week}},
			Parts: Figure{List: Query{List: ListParts, Week: c.Week}},
		})
	}
	lines, err := l.timedWork(ctx, span{from.Monday(), l.Today})
	if err != nil {
		return nil, err
	}
	for i := range lines {
		f := &w.Weeks[lines[i].Day.Week()-from].Sold
		f.Count++
		f.Minutes += lines[i].Minutes
	}
	for i := range visits {
		if at := visits[i].Day.Week() - from; standsFrom(&visits[i], now) && at < civil.Week(len(w.Weeks)) {
			f := &w.Weeks[at].Ahead
			f.Count++
			f.Minutes += visits[i].Labour
			if visits[i].Booked {
				w.Weeks[at].Booked += visits[i].Labour
			}
		}
	}
	if err := l.countParts(ctx, w); err != nil {
		return nil, err
	}
	w.Checks, err = l.Checks(ctx)
	return w, err
}

// timedWork is the work of some days with the catalog's time for it, read once for a
// ledger.
func (l *Ledger) timedWork(ctx context.Context, days span) ([]app.TimedLine, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	if lines, known := l.timed[days]; known {
		return lines, nil
	}
	lines, err := l.shop.TimedWork(ctx, days.from, days.to, nil)
	if err == nil {
		l.timed[days] = lines
	}
	return lines, err
}

// standsFrom reports whether a visit stands in a shop week from now on.
func standsFrom(v *report.AheadVisit, now civil.Week) bool {
	return (v.Booked || v.Pencilled) && v.Day.Week() >= now
}

// listHours lists the work of a past week by its time in the catalogue.
func (l *Ledger) listHours(ctx context.Context, t *Table) error {
	t.Title = "Labor sold"
	t.About = "The shop's work with the catalog's time for it, in minutes. An estimate: no time clock is read."
	t.Columns = columns("Day:d", "Boat", "Boat id", "Customer", "Service", "Minutes:n")
	from, to := t.Query.spanOfDays()
	if to == 0 || to > l.Today {
		to = l.Today
	}
	lines, err := l.shop.TimedWork(ctx, from, to, nil)
	if err != nil {
		return err
	}
	for _, x := range lines {
		if t.Query.Service != "" && t.Query.Service != x.Service {
			continue
		}
		title, customer := l.names(x.BoatID, x.Day)
		t.row(x.BoatID, x.Day, title, x.BoatID, customer, l.shop.Planner.Catalogue().ServiceTitle(x.Service), x.Minutes)
		t.Minutes += x.Minutes
	}
	return nil
}

// listVisits lists the visits that stand in a shop week from now on.
func (l *Ledger) listVisits(ctx context.Context, t *Table) error {
	t.Title = "Visits in the shop weeks"
	t.About = "Visits that are booked or penciled in, with their labor in minutes."
	t.Columns = columns("Day:d", "Boat", "Boat id", "Customer", "Visit", "Booked", "Minutes:n")
	visits, err := report.AheadVisits(ctx, l.shop.DB)
	if err != nil {
		return err
	}
	slices.SortStableFunc(visits, func(a, b report.AheadVisit) int { return int(a.Day - b.Day) })
	for i := range visits {
		v := &visits[i]
		if !standsFrom(v, l.Today.Week()) || t.Query.Week != 0 && v.Day.Week() != t.Query.Week || t.Query.Booked != "" && t.Query.Booked != yesNo(v.Booked) {
			continue
		}
		title, customer := l.names(v.BoatID, l.Today)
		t.row(v.BoatID, v.Day, title, v.BoatID, customer, v.ID, yesNo(v.Booked), v.Labour)
		t.Minutes += v.Labour
	}
	return nil
}

// How the check before a sale's engine warranty ends went.
const (
	checkInTime = "in-time"
	checkLate   = "late"   // done after the last day
	checkMissed = "missed" // the last day is past and nothing is on record
	checkOpen   = "open"   // still to be done
)

// serviceCheck is the service code of that check.
const serviceCheck = "warranty-check"

// checkAhead is how many days ahead open checks are shown.
const checkAhead = 90

// CheckTally is how many checks went one way.
type CheckTally struct {
	Fate  string `json:"fate"`
	Boats Figure `json:"boats"`
}

// check is one sale's.
type check struct {
	tenure int
	fate   string
	done   civil.Day
}

// Checks tells how the checks went whose warranties ended in the last twelve
// months, and which of the next three are open.
func (l *Ledger) Checks(ctx context.Context) ([]CheckTally, error) {
	all, err := l.checks(ctx)
	if err != nil {
		return nil, err
	}
	var out []CheckTally
	for _, fate := range []string{checkInTime, checkLate, checkMissed, checkOpen} {
		c := CheckTally{fate, Figure{List: Query{List: ListWarranty, Fate: fate}}}
		for _, x := range all {
			if x.fate == fate {
				c.Boats.Count++
			}
		}
		out = append(out, c)
	}
	return out, nil
}

func (l *Ledger) checks(ctx context.Context) ([]check, error) {
	var all []check
	var boats []string
	for i := range l.histories {
		h, b := &l.histories[i], &l.tenures[i].Boat
		ends := b.WarrantyUntil
		if h.Sold == 0 || h.Sold != b.SoldOn || ends <= l.Today.AddMonths(-12) || ends > l.Today+checkAhead || h.End != 0 && h.End <= ends {
			continue
		}
		all = append(all, check{tenure: i})
		boats = append(boats, h.Boat)
	}
	days, err := report.DoneDaysOf(ctx, l.shop.DB, serviceCheck, boats)
	if err != nil {
		return nil, err
	}
	done := make(map[string][]civil.Day)
	for _, d := range days {
		done[d.BoatID] = append(done[d.BoatID], d.Day)
	}
	for i := range all {
		l.settleCheck(&all[i], done)
	}
	return all, nil
}

// settleCheck tells how one check went: the first one after the sale counts.
func (l *Ledger) settleCheck(c *check, done map[string][]civil.Day) {
	h, ends := &l.histories[c.tenure], l.tenures[c.tenure].Boat.WarrantyUntil
	for _, d := range done[h.Boat] {
		if d > h.Sold && d <= l.Today && c.done == 0 {
			c.done = d
		}
	}
	switch {
	case c.done != 0 && c.done <= ends:
		c.fate = checkInTime
	case c.done != 0:
		c.fate = checkLate
	case ends < l.Today:
		c.fate = checkMissed
	default:
		c.fate = checkOpen
	}
}

// listWarranty lists those sales.
func (l *Ledger) listWarranty(ctx context.Context, t *Table) error {
	t.Title = "Checks before the warranty ends"
	t.About = "Boats that the shop sold whose engine warranty from the sale ended in the last twelve months or ends in the next three."
	t.Columns = columns("Warranty until:d", "Boat", "Boat id", "Customer", "Phone", "Checked on:d", "Check")
	all, err := l.checks(ctx)
	if err != nil {
		return err
	}
	slices.SortStableFunc(all, func(a, b check) int {
		return int(l.tenures[a.tenure].Boat.WarrantyUntil - l.tenures[b.tenure].Boat.WarrantyUntil)
	})
	for _, c := range all {
		if t.Query.Fate != "" && t.Query.Fate != c.fate {
			continue
		}
		x := &l.tenures[c.tenure]
		t.row(x.Boat.ID, x.Boat.WarrantyUntil, x.Boat.Title(), x.Boat.ID, x.Customer.Name, x.Customer.Phone, c.done, c.fate)
	}
	return nil
}

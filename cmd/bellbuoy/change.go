package main

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"time"

	"bellbuoy/cmd/bellbuoy/internal/app"
	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/store"
)

// actor is who stands in the audit log for a command.
const actor = "command line"

// desk is a shop that is open for one command, at one moment.
type desk struct {
	*app.App
	now   time.Time
	today civil.Day
}

// desk opens the shop. The caller closes it.
func (a *cli) desk(ctx context.Context) (*desk, error) {
	h, err := a.house(ctx)
	if err != nil {
		return nil, err
	}
	now, err := a.instant(h.Config)
	if err != nil {
		return nil, errors.Join(err, h.Close())
	}
	return &desk{App: h, now: now, today: civil.FromTime(now)}, nil
}

// change is what one changed fact did to a boat's plan.
type change struct {
	lines []string // one for each item that is due on another day now
	moved int      // pencilled visits of the whole shop that lie in another week now
}

// change lets act change facts of a boat, has the plan made anew, and says
// what that did.
func (d *desk) change(ctx context.Context, boatID string, act func() error) (change, error) {
	if _, err := d.DB.Boat(ctx, boatID); errors.Is(err, store.ErrNotFound) {
		return change{}, noBoat(boatID)
	}
	// What the passing of days does to the plan is not this change's doing.
	if _, err := d.Settle(ctx, d.now, d.today, nil); err != nil {
		return change{}, err
	}
	before, err := d.DB.Plan(ctx, boatID)
	if err != nil {
		return change{}, err
	}
	if err := act(); errors.Is(err, store.ErrNotFound) {
		return change{}, hinted{err, "\"bellbuoy plan " + boatID + " --json\" shows the boat's jobs with their components' ids"}
	} else if err != nil {
		return change{}, err
	}
	done, err := d.Settle(ctx, d.now, d.today, nil)
	if err != nil {
		return change{}, err
	}
	after, err := d.DB.Plan(ctx, boatID)
	return change{planChanges(&before, &after), done.Moved}, err
}

// changeJSON is what record, followup and override print with --json: the id of
// what was written down (none for what was taken back or overridden), what is
// due on another day now, in words, and how many pencilled visits of the whole
// shop lie in another week.
type changeJSON struct {
	BoatID  string   `json:"boat_id"`
	ID      string   `json:"id,omitempty"`
	Changes []string `json:"changes"`
	Moved   int      `json:"moved"`
}

// printChange says what was done and what that changed.
func (a *cli) printChange(boatID, id, done string, c change) error {
	if a.asJSON {
		return a.printJSON(changeJSON{boatID, id, c.lines, c.moved})
	}
	a.printf("%s\n", done)
	for _, line := range c.lines {
		a.printf("  %s\n", line)
	}
	if len(c.lines) == 0 {
		a.printf("  nothing is due on another day\n")
	}
	switch c.moved {
	case 0:
		a.printf("No pencilled visit moved to another week.\n")
	case 1:
		a.printf("1 pencilled visit moved to another week.\n")
	default:
		a.printf("%d pencilled visits moved to another week.\n", c.moved)
	}
	return nil
}

// planChanges words what a change of facts did to a plan.
func planChanges(before, after *schedule.BoatPlan) []string {
	was := firstDue(before)
	var out []string
	seen := make(map[string]bool)
	for i := range after.Items {
		it := &after.Items[i]
		n := itemName(it)
		if seen[n] {
			continue
		}
		seen[n] = true
		old, ok := was[n]
		switch {
		case !ok:
			out = append(out, fmt.Sprintf("%s: now due %s", n, it.Due))
		case old.Due != it.Due:
			out = append(out, fmt.Sprintf("%s: due %s instead of %s", n, it.Due, old.Due))
		case old.ByCustomer != it.ByCustomer && it.ByCustomer:
			out = append(out, fmt.Sprintf("%s: due %s, the owner's own work now", n, it.Due))
		case old.ByCustomer != it.ByCustomer:
			out = append(out, fmt.Sprintf("%s: due %s, the shop's work now", n, it.Due))
		}
	}
	for n := range was {
		if !seen[n] {
			out = append(out, n+": done with")
		}
	}
	slices.Sort(out)
	return out
}

func itemName(it *schedule.DueItem) string { return it.ComponentID + " " + it.Rule }

// firstDue finds, for each rule on each component, the item that comes first.
func firstDue(p *schedule.BoatPlan) map[string]*schedule.DueItem {
	first := make(map[string]*schedule.DueItem)
	for i := range p.Items {
		it := &p.Items[i]
		if old, ok := first[itemName(it)]; !ok || it.Due < old.Due {
			first[itemName(it)] = it
		}
	}
	return first
}

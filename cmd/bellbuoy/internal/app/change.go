package app

import (
	"cmp"
	"context"
	"errors"
	"slices"
	"time"

	"bellbuoy/notify"
	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/words"
)

// Change is what an act of the shop did beside what was asked for.
type Change struct {
	Planned
	Due    []DueChange // in order of title; of acts about one boat only
	Queued bool        // a message to the boat's owner was queued
}

// DueChange is a job of a boat that is due on another day, or another's work, now.
type DueChange struct {
	Title   string    // "Water pump impeller (port engine)"
	Was, Is civil.Day // 0 if it was not, or is no longer, due at all
	ByOwner bool      // the owner does it himself now
}

// Words says it in a sentence.
func (d DueChange) Words(in words.Format) string {
	switch {
	case d.Is == 0:
		return d.Title + ": no longer due."
	case d.Was == 0:
		return d.Title + ": now due " + in.Date(d.Is) + "."
	case d.Was != d.Is:
		return d.Title + ": due " + in.Date(d.Is) + " instead of " + in.Date(d.Was) + "."
	case d.ByOwner:
		return d.Title + ": due " + in.Date(d.Is) + ", the owner's own work now."
	}
	return d.Title + ": due " + in.Date(d.Is) + ", the shop's work now."
}

// Words says what changed, a sentence each; none if nothing did.
func (c *Change) Words(in words.Format) []string {
	var out []string
	for _, d := range c.Due {
		out = append(out, d.Words(in))
	}
	if c.Moved > 0 {
		out = append(out, words.Plural(c.Moved, "visit that was", "visits that were")+" penciled in moved to another week.")
	}
	if c.Queued {
		out = append(out, "The customer gets an email about it.")
	}
	return out
}

// change has act change facts about a boat, and does what follows. Before it, the
// plan is made that of today: what the passing of days does is not the act's
// doing. After it, plans, weeks and calendars are brought up to date, and the
// boat's owner is told what must not wait. A boatID of "" is for acts that
// concern no boat, or many: only plans, weeks and calendars follow on them.
func (a *App) change(ctx context.Context, now time.Time, boatID string, act func() error) (Change, error) {
	var before map[string]dueLine
	if boatID != "" {
		if _, err := a.Settle(ctx, now, a.Day(now), nil); err != nil {
			return Change{}, err
		}
		var err error
		if before, err = a.dueLines(ctx, boatID); err != nil {
			return Change{}, err
		}
	}
	if err := act(); err != nil {
		return Change{}, err
	}
	c, err := a.follow(ctx, now, boatID)
	if err != nil || boatID == "" {
		return c, err
	}
	after, err := a.dueLines(ctx, boatID)
	if err != nil {
		return c, err
	}
	c.Due = dueChanges(before, after)
	c.Queued, err = a.Tell(ctx, now, boatID)
	a.untold(ctx, boatID, err)
	return c, nil
}

// follow brings plans, weeks and calendars up to date after a change. The plan of
// the boat may be the same as before; whom its calendar speaks to may not be.
func (a *App) follow(ctx context.Context, now time.Time, boatID string) (Change, error) {
	today := a.Day(now)
	done, err := a.Settle(ctx, now, today, a.Progress)
	if err == nil && boatID != "" && !slices.Contains(done.IDs, boatID) {
		err = a.Publish(ctx, now, today, []string{boatID})
	}
	return Change{Planned: done}, err
}

// queueOne queues a notice, if there is one to be, and reports whether it did: a
// shop without a sender tells nobody.
func (a *App) queueOne(ctx context.Context, now time.Time, n notify.Notice, due bool) (bool, error) {
	if !due {
		return false, nil
	}
	queued, err := a.queue(ctx, now, []notify.Notice{n})
	if errors.Is(err, ErrNoSender) {
		return false, nil
	}
	return queued > 0, err
}

// untold logs that a message about a change could not be queued. The change
// stands, and the daemon decides again within the hour.
func (a *App) untold(ctx context.Context, boatID string, err error) {
	if err != nil && !errors.Is(err, ErrNoSender) {
		a.Log.ErrorContext(ctx, "queue what an owner must hear; it is tried again", "boat", boatID, "error", err)
	}
}

// dueLine is when a rule is next due on a component.
type dueLine struct {
	title   string
	due     civil.Day
	byOwner bool
}

// dueLines are the jobs of a boat's stored plan by component and rule, each with
// the day on which it comes first.
func (a *App) dueLines(ctx context.Context, boatID string) (map[string]dueLine, error) {
	view, err := a.View(ctx, boatID)
	if err != nil {
		return nil, err
	}
	return firstDue(&view), nil
}

// firstDue are the jobs of a plan.
func firstDue(view *schedule.BoatView) map[string]dueLine {
	first := make(map[string]dueLine)
	add := func(lines []schedule.Line) {
		for i := range lines {
			it := &lines[i].Item
			key := it.ComponentID + " " + it.Rule
			if old, ok := first[key]; !ok || it.Due < old.due {
				first[key] = dueLine{lines[i].Title, it.Due, it.ByCustomer}
			}
		}
	}
	for i := range view.Visits {
		add(view.Visits[i].Lines)
	}
	add(view.Loose)
	return first
}

// dueChanges compares a boat's jobs before and after a change.
func dueChanges(before, after map[string]dueLine) []DueChange {
	var out []DueChange
	for key, is := range after {
		if was := before[key]; was.due != is.due || was.byOwner != is.byOwner {
			out = append(out, DueChange{is.title, was.due, is.due, is.byOwner})
		}
	}
	for key, was := range before {
		if _, still := after[key]; !still {
			out = append(out, DueChange{Title: was.title, Was: was.due})
		}
	}
	slices.SortFunc(out, func(x, y DueChange) int {
		return cmp.Or(cmp.Compare(x.Title, y.Title), cmp.Compare(x.Is, y.Is), cmp.Compare(x.Was, y.Was))
	})
	return out
}

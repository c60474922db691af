package app

import (
	"context"
	"slices"
	"strings"
	"time"

	"bellbuoy/schedule"
	"bellbuoy/store"
)

// Doubtful says what is doubted about an entry. It is taken when somebody says
// that it is right all the same.
type Doubtful struct{ Doubts []schedule.Doubt }

func (d *Doubtful) Error() string {
	var all []string
	for _, x := range d.Doubts {
		all = append(all, x.Words)
	}
	return strings.Join(all, " ")
}

// doubtWork doubts the lines and readings of a piece of work.
func (a *App) doubtWork(ctx context.Context, w *store.Work) ([]schedule.Doubt, error) {
	f, err := a.Facts(ctx, w.BoatID)
	if err != nil {
		return nil, err
	}
	var all []schedule.Doubt
	for _, r := range w.Records {
		all = append(all, a.Planner.DoubtRecord(&f, r, a.Config.Weeks.LayUpFirst)...)
	}
	for _, r := range w.Readings {
		all = append(all, a.Planner.DoubtReading(&f, r)...)
	}
	// One meter is read once for all its lines.
	return slices.CompactFunc(all, func(a, b schedule.Doubt) bool { return a == b }), nil
}

// doubtBooking doubts the day of a booking.
func (a *App) doubtBooking(ctx context.Context, now time.Time, b *schedule.Booking) ([]schedule.Doubt, error) {
	plan, err := a.DB.Plan(ctx, b.BoatID)
	if err != nil {
		return nil, err
	}
	for i := range plan.Visits {
		if v := &plan.Visits[i]; v.ID == b.VisitID {
			more, err := a.doubtDay(ctx, v, b)
			return append(a.Planner.DoubtBooking(v, b.Day, a.Day(now)), more...), err
		}
	}
	return nil, nil
}

// sure lets act go on if nothing is doubted, or if somebody said that it is
// right: that then stands in the history of changes beside the entry. Otherwise
// it is a [*Doubtful].
func (a *App) sure(ctx context.Context, now time.Time, actor, boatID string, doubts []schedule.Doubt, said bool, act func() error) error {
	switch {
	case len(doubts) == 0:
		return act()
	case !said:
		return &Doubtful{doubts}
	}
	if err := act(); err != nil {
		return err
	}
	return a.db.NoteSure(ctx, now, actor, boatID, doubts)
}

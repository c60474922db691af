package figures

import (
	"context"
	"errors"
	"fmt"
	"slices"

	"bellbuoy/cmd/bellbuoy/internal/app"
	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/returns"
	"bellbuoy/store"
	"bellbuoy/store/report"
)

// seasonsReplayed is how many seasons back the plan is worked out again: six
// years, so that five whole ones can be compared with what came.
const seasonsReplayed = 13

// Replay works out what was due, and how likely it was to come, on the first
// day of each season up to a day, and keeps it. It plans with what was known on
// that day: later work, readings, sales and bookings are left out. Rules,
// prices and exceptions are today's, for the earlier ones are not kept.
// progress, if not nil, is told how many boats are done.
func Replay(ctx context.Context, h *app.App, today civil.Day, progress func(boats int)) error {
	return replay(ctx, h, today, nil, progress)
}

// jobReplay names the job of working out seasons; its key is the running season
// and the day of the oldest record.
const jobReplay = "replay-seasons"

// settingReplayed names the setting that holds the oldest record's day as it
// was when past seasons were worked out.
const settingReplayed = "seasons-replayed-since"

// replayMissing works out the seasons that are not kept yet; all of them if the
// records reach back farther than before.
func replayMissing(ctx context.Context, h *app.App, today, since civil.Day) error {
	known, err := h.DB.Setting(ctx, settingReplayed)
	if err != nil && !errors.Is(err, store.ErrNotFound) {
		return err
	}
	var kept []civil.Day
	if string(known) == since.String() {
		if kept, err = report.OutlookDays(ctx, h.DB); err != nil {
			return err
		}
	}
	if err := replay(ctx, h, today, kept, nil); err != nil {
		return err
	}
	return h.KeepSetting(ctx, settingReplayed, []byte(since.String()))
}

// snapshot is one season's first day being worked out.
type snapshot struct {
	on      civil.Day
	chances *returns.Chances
	visits  []report.OutlookVisit
}

// replay works out the seasons whose first days are not kept.
func replay(ctx context.Context, h *app.App, today civil.Day, kept []civil.Day, progress func(boats int)) error {
	l, err := Open(ctx, h, today)
	if err != nil {
		return err
	}
	var snapshots []*snapshot
	s := returns.SeasonOf(today)
	for i := 0; i < seasonsReplayed && !s.Before(l.First); i++ {
		if !slices.Contains(kept, s.First()) {
			snapshots = append(snapshots, &snapshot{on: s.First(), chances: returns.NewChances(l.histories, l.First, s.First())})
		}
		s = returns.SeasonOf(s.First() - 1)
	}
	if len(snapshots) == 0 {
		return nil
	}
	places, err := h.Places(ctx)
	if err != nil {
		return err
	}
	boats := 0
	err = h.DB.EachFacts(ctx, nil, func(f *schedule.Facts) error {
		f.Place = places.Of(f.Boat.Place)
		for _, past := range snapshots {
			l.replayBoat(f, past)
		}
		if boats++; boats%app.Batch == 0 && progress != nil {
			progress(boats)
		}
		return ctx.Err()
	})
	if err != nil {
		return fmt.Errorf("work out past seasons: %w", err)
	}
	for _, past := range snapshots {
		if err := h.KeepOutlook(ctx, past.on, past.visits); err != nil {
			return err
		}
	}
	return nil
}

// replayBoat plans one boat as of the snapshot's day, if it was in care then.
func (l *Ledger) replayBoat(f *schedule.Facts, past *snapshot) {
	i := l.holder(f.Boat.ID, past.on)
	if i < 0 || l.histories[i].Sold > past.on {
		return
	}
	h := &l.histories[i]
	known := asOf(f, h.Sold, past.on)
	plan := l.shop.Planner.Plan(&known, past.on)
	for k := range plan.Visits {
		v := &plan.Visits[k]
		past.visits = append(past.visits, report.OutlookVisit{
			BoatID: v.BoatID, VisitID: v.ID, Kind: v.Kind, Season: v.Season, Day: max(v.Day, past.on), List: v.Price,
			Chance: past.chances.Of(h, max(v.Day, past.on)),
		})
	}
}

// asOf is what was known of a boat on the morning of a day, sold then on the
// day given.
func asOf(f *schedule.Facts, sold, on civil.Day) schedule.Facts {
	out := *f
	out.Bookings, out.Prior = nil, nil
	if out.Boat.Gone > on {
		out.Boat.Gone = 0
	}
	if out.Boat.SoldOn != sold {
		out.Boat.SoldOn, out.Boat.WarrantyUntil = sold, 0
	}
	out.Records = before(f.Records, on, func(r *schedule.Record) civil.Day { return r.Day })
	out.Readings = before(f.Readings, on, func(r *schedule.Reading) civil.Day { return r.Day })
	out.FollowUps = before(f.FollowUps, on, func(u *schedule.FollowUp) civil.Day { return u.Raised })
	out.Components = before(f.Components, on, func(c *schedule.Component) civil.Day { return c.InService })
	return out
}

func before[T any](all []T, on civil.Day, day func(*T) civil.Day) []T {
	return slices.DeleteFunc(slices.Clone(all), func(x T) bool { return day(&x) >= on })
}

package app

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"slices"
	"strings"
	"time"

	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/store"
)

// batch is how many boats are planned and written in one transaction: few
// enough that a person's click never waits long for the writer.
const Batch = 256

// Planned counts what a round of planning did.
type Planned struct {
	Boats   int // planned again
	Changed int // whose plan is different now
	// Moved counts the visits that had a week and lie in another one now, and
	// ToldMoved those of them whose customer was told the week.
	Moved, ToldMoved int
	Leveled          bool     // all weeks were filled again
	IDs              []string // of the boats whose facts or plan changed

	plans []schedule.BoatPlan // of the first few boats planned
}

// Replan plans every boat whose facts changed since its last plan. It may stop
// between two batches when ctx ends; what is left stays marked.
func (a *App) Replan(ctx context.Context, now time.Time, today civil.Day, progress func(boats int)) (Planned, error) {
	var done Planned
	for {
		seen, err := a.DB.FactsVersion(ctx)
		if err != nil {
			return done, err
		}
		ids, err := a.DB.DirtyBoats(ctx, Batch)
		if err != nil || len(ids) == 0 {
			return done, err
		}
		p := planning{app: a, now: now, today: today, seen: seen, done: &done, progress: progress}
		if err := p.each(ctx, ids); err != nil {
			return done, err
		}
		done.IDs = append(done.IDs, ids...)
		if err := ctx.Err(); err != nil {
			return done, err
		}
	}
}

// Sweep plans the whole fleet again. The facts are read in the order in which
// they lie in the file while the boats before them are planned, and only plans
// that say something else than the stored ones are written.
func (a *App) Sweep(ctx context.Context, now time.Time, today civil.Day, progress func(boats int)) (Planned, error) {
	var done Planned
	seen, err := a.DB.FactsVersion(ctx)
	if err != nil {
		return done, err
	}
	// What changed by hand may show in a calendar though the plan is the same.
	touched, err := a.DB.DirtyBoats(ctx, everyBoat)
	if err != nil {
		return done, err
	}
	p := planning{app: a, now: now, today: today, seen: seen, done: &done, progress: progress}
	if err := p.each(ctx, nil); err != nil {
		return done, err
	}
	done.IDs = unique(append(p.changed, touched...))
	return done, nil
}

// everyBoat is more boats than any shop has.
const everyBoat = 1 << 30

// planning is a run of planning over some boats.
type planning struct {
	app      *App
	now      time.Time
	today    civil.Day
	seen     int64
	done     *Planned
	progress func(boats int)

	waiting []store.NewPlan
	changed []string
}

// each plans the boats of these ids, or every boat for nil, and writes the
// plans down batch by batch.
func (p *planning) each(ctx context.Context, ids []string) error {
	places, err := p.app.Places(ctx)
	if err != nil {
		return err
	}
	err = p.app.DB.EachFacts(ctx, ids, func(f *schedule.Facts) error {
		f.Place = places.Of(f.Boat.Place)
		p.waiting = append(p.waiting, store.NewPlan{BoatID: f.Boat.ID, Plan: p.app.Planner.Plan(f, p.today), Seen: p.seen})
		if len(p.waiting) < Batch {
			return nil
		}
		return p.save(ctx)
	})
	if err != nil {
		return err
	}
	return p.save(ctx)
}

func (p *planning) save(ctx context.Context) error {
	changed, err := p.app.db.SavePlans(ctx, p.now, p.waiting)
	if err != nil {
		return err
	}
	p.changed = append(p.changed, changed...)
	for i := range p.waiting {
		if len(p.done.plans) <= fewBoats {
			p.done.plans = append(p.done.plans, p.waiting[i].Plan)
		}
	}
	p.done.Boats += len(p.waiting)
	p.done.Changed += len(changed)
	p.waiting = p.waiting[:0]
	if p.progress != nil {
		p.progress(p.done.Boats)
	}
	return nil
}

// settingPlanned names the setting that holds for which day, and under which
// rules and settings, the whole fleet was last planned.
const settingPlanned = "planned-for"

// fewBoats is up to how many changed boats are pencilled by themselves into the
// weeks as they stand; more than that are worth levelling all again.
const fewBoats = 64

// Settle brings everything up to date after facts changed: plans, pencilled
// weeks and feeds. On a new day, or under new rules or settings, every boat is
// planned again and all weeks are levelled; else only what changed is, at a cost
// that does not grow with the fleet. Of several callers one works and the
// others wait for it.
func (a *App) Settle(ctx context.Context, now time.Time, today civil.Day, progress func(boats int)) (Planned, error) {
	a.settling.Lock()
	defer a.settling.Unlock()
	rules := a.fingerprint()
	last, err := a.DB.Setting(ctx, settingPlanned)
	if err != nil && !isNotFound(err) {
		return Planned{}, err
	}
	want := today.String() + "/" + rules
	if string(last) == want {
		return a.settleChanged(ctx, now, today, progress)
	}
	sameRules := strings.HasSuffix(string(last), "/"+rules)
	before, _, _ := strings.Cut(string(last), "/")
	done, err := a.settleAll(ctx, now, today, seen(before, today), sameRules, progress)
	if err != nil {
		return done, err
	}
	// Only now: a round that was cut short is made again from the start.
	return done, a.db.SetSetting(ctx, settingPlanned, []byte(want))
}

// settleChanged plans what changed since the last time.
func (a *App) settleChanged(ctx context.Context, now time.Time, today civil.Day, progress func(boats int)) (Planned, error) {
	done, err := a.Replan(ctx, now, today, progress)
	if err != nil || done.Boats == 0 {
		return done, err
	}
	if err := a.letGoLate(ctx, now, today, done.IDs); err != nil {
		return done, err
	}
	p, ok := Pencilled{}, false
	if len(done.plans) <= fewBoats {
		p, ok, err = a.pencilFew(ctx, today, done.plans)
	}
	if err == nil && !ok {
		done.Leveled = true
		p, err = a.pencilAll(ctx, today)
	}
	if err != nil {
		return done, err
	}
	return a.publishPencilled(ctx, now, today, done, p)
}

// settleAll plans the whole fleet. Under new rules or settings every calendar
// is written again, as those tell the shop's name and texts too.
func (a *App) settleAll(ctx context.Context, now time.Time, today civil.Day, seen, sameRules bool, progress func(boats int)) (Planned, error) {
	done, err := a.Sweep(ctx, now, today, progress)
	if err != nil {
		return done, err
	}
	passed, err := a.releaseMissed(ctx, now, today, seen)
	if err != nil {
		return done, err
	}
	done.IDs = append(done.IDs, passed...)
	if !sameRules {
		if done.IDs, err = a.DB.BoatIDs(ctx); err != nil {
			return done, err
		}
	}
	if err := a.letGoLate(ctx, now, today, nil); err != nil {
		return done, err
	}
	done.Leveled = true
	p, err := a.pencilAll(ctx, today)
	if err != nil {
		return done, err
	}
	return a.publishPencilled(ctx, now, today, done, p)
}

// longestLeap is by how many days the day may be ahead of the last one that was
// planned for without doubt about the clock: a week's holiday.
const longestLeap = 7

// seen reports whether a day was seen coming: the last one planned for, as it was
// kept, is not far before it. A new shop has none, and nothing that passed.
func seen(last string, today civil.Day) bool {
	before, err := civil.Parse(last)
	return err != nil || today-before <= longestLeap
}

// releaseMissed opens the visits again whose booked day passed too long ago
// without a record, and plans their boats again. It returns every boat whose
// booked day has passed: its calendar is to say so. A day that was not seen coming
// opens nothing; the next one does.
func (a *App) releaseMissed(ctx context.Context, now time.Time, today civil.Day, seen bool) ([]string, error) {
	passed, err := a.DB.BookedBefore(ctx, today)
	if err != nil || len(passed) == 0 {
		return nil, err
	}
	ids := make([]string, len(passed))
	for i := range passed {
		ids[i] = passed[i].BoatID
	}
	if !seen {
		return ids, nil
	}
	last := today - civil.Day(a.Config.Reminders.DayPassedDays)
	if _, err := a.db.ReleaseMissed(ctx, now, "bellbuoy", last); err != nil {
		return nil, err
	}
	_, err = a.Replan(ctx, now, today, nil)
	return ids, err
}

func (a *App) publishPencilled(ctx context.Context, now time.Time, today civil.Day, done Planned, p Pencilled) (Planned, error) {
	done.Moved, done.ToldMoved = p.Moved, p.ToldMoved
	return done, a.Publish(ctx, now, today, append(done.IDs, p.Boats...))
}

// fingerprint is a short name for the rules, settings and places in force:
// under another one every boat is planned again. It goes by what they say and not by
// where they stand, so that a shop may be moved to another folder.
func (a *App) fingerprint() string {
	a.printOnce.Do(func() {
		places := slices.Clone(a.Config.Places)
		for i := range places {
			places[i].Forecast = "" // no plan depends on it, but on the alarms that came of it
		}
		sum := sha256.New()
		enc := json.NewEncoder(sum)
		for _, v := range []any{a.Planner.Catalogue(), a.Planner.Settings(), places, a.Config.Shop, a.Config.Weeks, a.Config.Yard} {
			if err := enc.Encode(v); err != nil {
				panic(err) // plain data always encodes
			}
		}
		a.print = hex.EncodeToString(sum.Sum(nil)[:8])
	})
	return a.print
}

package round

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"time"

	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/store"
)

// batch is how many boats are planned and written in one transaction: few
// enough that a person's click never waits long for the writer.
const batch = 256

// Planned counts what a round of planning did.
type Planned struct {
	Boats   int      // planned anew
	Changed int      // whose plan is different now
	IDs     []string // of the boats planned
}

// Replan plans every boat whose facts changed since its last plan. It may stop
// between two batches when ctx ends; what is left stays marked.
func (h *House) Replan(ctx context.Context, now time.Time, today civil.Day, progress func(boats int)) (Planned, error) {
	var done Planned
	for {
		seen, err := h.DB.FactsVersion(ctx)
		if err != nil {
			return done, err
		}
		ids, err := h.DB.DirtyBoats(ctx, batch)
		if err != nil || len(ids) == 0 {
			return done, err
		}
		plans, err := h.plan(ctx, ids, seen, today)
		if err != nil {
			return done, err
		}
		changed, err := h.DB.SavePlans(ctx, now, plans)
		if err != nil {
			return done, err
		}
		done.Boats += len(ids)
		done.Changed += changed
		done.IDs = append(done.IDs, ids...)
		if progress != nil {
			progress(done.Boats)
		}
		if err := ctx.Err(); err != nil {
			return done, err
		}
	}
}

// plan plans some boats; their facts are read one after the other, so memory
// does not grow with the batch.
func (h *House) plan(ctx context.Context, ids []string, seen int64, today civil.Day) ([]store.NewPlan, error) {
	plans := make([]store.NewPlan, 0, len(ids))
	places, err := h.Places(ctx)
	if err != nil {
		return nil, err
	}
	err = h.DB.EachFacts(ctx, ids, func(f *schedule.Facts) error {
		f.Place = places.Of(f.Boat.Place)
		plans = append(plans, store.NewPlan{BoatID: f.Boat.ID, Plan: h.Planner.Plan(f, today), Seen: seen})
		return nil
	})
	return plans, err
}

// Settle brings everything up to date after facts changed: plans, pencilled
// weeks and feeds. On a new day, or under new rules or settings, every boat is
// planned anew.
func (h *House) Settle(ctx context.Context, now time.Time, today civil.Day, progress func(boats int)) (Planned, error) {
	key := today.String() + "/" + h.fingerprint()
	fresh, err := h.DB.OncePer(ctx, jobPlanAll, key, now)
	if err != nil {
		return Planned{}, err
	}
	if fresh {
		if err := h.DB.MarkAllDirty(ctx); err != nil {
			return Planned{}, errors.Join(err, h.DB.ForgetTick(ctx, jobPlanAll, key))
		}
	}
	done, err := h.Replan(ctx, now, today, progress)
	if err != nil || (!fresh && done.Boats == 0) {
		return done, err
	}
	moved, err := h.Pencil(ctx, today)
	if err != nil {
		return done, err
	}
	return done, h.Publish(ctx, now, today, append(done.IDs, moved...))
}

// jobPlanAll names the job of planning the whole fleet once a day.
const jobPlanAll = "plan-all"

// fingerprint is a short name for the rules, settings and places in force:
// under another one every boat is planned anew.
func (h *House) fingerprint() string {
	sum := sha256.New()
	enc := json.NewEncoder(sum)
	for _, v := range []any{h.Planner.Catalogue(), h.Planner.Settings(), h.Config.Places, h.Config.Shop, h.Config.Weeks} {
		if err := enc.Encode(v); err != nil {
			panic(err) // plain data always encodes
		}
	}
	return hex.EncodeToString(sum.Sum(nil)[:8])
}

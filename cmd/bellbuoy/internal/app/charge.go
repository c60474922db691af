package app

import (
	"context"
	"slices"
	"time"

	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/rules"
)

// Charge is a battery in storage that needs a charge, or a lithium one a look.
type Charge struct {
	schedule.StoredBattery
	Due  civil.Day
	Rule *rules.Rule
}

// Charges returns the batteries in storage whose charge falls due in a week, in
// the present one also those that are late, in order of the place in the yard.
func (h *App) Charges(ctx context.Context, week civil.Week, today civil.Day) ([]Charge, error) {
	stored, err := h.DB.StoredBatteries(ctx, today)
	if err != nil {
		return nil, err
	}
	var due []Charge
	for i := range stored {
		day, r := h.Planner.ChargeDue(&stored[i])
		if r != nil && (day.Week() == week || day.Week() < week && week == today.Week()) {
			due = append(due, Charge{stored[i], day, r})
		}
	}
	return due, nil
}

// ChargedBoats counts the boats among batteries.
func ChargedBoats(due []Charge) int {
	ids := make([]string, len(due))
	for i := range due {
		ids[i] = due[i].Boat.ID
	}
	slices.Sort(ids)
	return len(slices.Compact(ids))
}

// RecordCharged writes down that batteries in storage were charged today, and
// returns how many. One that was charged since the list was made, or is stored no
// more, is passed over.
func (h *App) RecordCharged(ctx context.Context, now time.Time, actor string, batteries []string) (n int, err error) {
	today := h.Day(now)
	_, err = h.change(ctx, now, "", func() error {
		stored, err := h.DB.StoredBatteries(ctx, today)
		if err != nil {
			return err
		}
		for i := range stored {
			s := &stored[i]
			if !slices.Contains(batteries, s.Battery.ID) || s.Charged == today {
				continue
			}
			_, err := h.DB.AddRecord(ctx, now, actor, schedule.Record{
				BoatID: s.Boat.ID, ComponentID: s.Battery.ID, Day: today, Service: schedule.ServiceCharge, By: schedule.ByShop,
			})
			if err != nil {
				return err
			}
			n++
		}
		return nil
	})
	return n, err
}

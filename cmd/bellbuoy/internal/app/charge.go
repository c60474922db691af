package app

import (
	"context"
	"slices"
	"time"

	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/rules"
	"bellbuoy/store"
)

// Charge is a battery in storage that needs a charge, or a lithium one a look.
type Charge struct {
	store.StoredItem
	Rule *rules.Rule
}

// chargeDays are the days whose charges belong to a week: its own, for the
// present one also those before.
func chargeDays(week civil.Week, today civil.Day) (from, to civil.Day) {
	from = week.Monday()
	if week == today.Week() {
		from = civil.Of(1900, time.January, 1)
	}
	return from, week.Sunday()
}

// Charges returns the batteries in storage whose charge falls due in a week, in
// the present one also those that are late, by the place in the yard.
func (a *App) Charges(ctx context.Context, week civil.Week, today civil.Day) ([]Charge, error) {
	from, to := chargeDays(week, today)
	stored, err := a.DB.StoredDue(ctx, from, to)
	if err != nil {
		return nil, err
	}
	var due []Charge
	for _, s := range stored {
		if r, ok := a.Planner.Catalogue().Rule(s.Item.Rule); ok {
			due = append(due, Charge{s, r})
		}
	}
	return due, nil
}

// ChargeBoats counts the boats of [App.Charges].
func (a *App) ChargeBoats(ctx context.Context, week civil.Week, today civil.Day) (int, error) {
	from, to := chargeDays(week, today)
	return a.DB.StoredBoats(ctx, from, to)
}

// RecordCharged writes down that batteries in storage were charged today, and
// returns how many. One that was charged since the list was made, or is stored no
// more, is passed over.
func (a *App) RecordCharged(ctx context.Context, now time.Time, actor string, batteries []string) (n int, err error) {
	today := a.Day(now)
	charges, err := a.Charges(ctx, today.Week(), today)
	if err != nil {
		return 0, err
	}
	_, err = a.change(ctx, now, "", func() error {
		for _, c := range charges {
			if !slices.Contains(batteries, c.Item.ComponentID) {
				continue
			}
			_, err := a.db.AddRecord(ctx, now, actor, schedule.Record{
				BoatID: c.Boat.ID, ComponentID: c.Item.ComponentID, Day: today, Service: c.Item.Service, By: schedule.ByShop,
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

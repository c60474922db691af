package main

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"bellbuoy/cmd/bellbuoy/internal/app"
	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/measure"
	"bellbuoy/store"
)

func recordCommand(a *cli) *cobra.Command {
	var r schedule.Record
	var day, hours, amount string
	var sure bool
	c := &cobra.Command{
		Use:   "record BOAT SERVICE",
		Short: "Record work that was done, and update the plan",
		Example: `  bellbuoy record HERON impeller --component HERON-E1 --hours 236.5 --amount 184.00
  bellbuoy record HERON lay-up --day 2026-10-02 --by elsewhere`,
		Args: cobra.ExactArgs(2),
		RunE: a.withChange(func(c *cobra.Command, h *app.App, now time.Time, args []string) error {
			today := civil.FromTime(now)
			r.BoatID, r.Service, r.Day = args[0], args[1], today
			if err := readRecordFlags(&r, day, hours, amount); err != nil {
				return err
			}
			if r.Day > today {
				return usagef("--day %s: still to come; record work when it is done", r.Day)
			}
			if cat := h.Planner.Catalogue(); !cat.HasService(r.Service) {
				return hinted{fmt.Errorf("service %q: not in the catalog", r.Service), "\"bellbuoy rules list\" shows the codes"}
			}
			if err := meterNamed(c.Context(), h, &r, today); err != nil {
				return err
			}
			w := store.Work{BoatID: r.BoatID, Records: []schedule.Record{r}}
			did, err := h.Record(c.Context(), now, actor, "", &w, sure)
			if err != nil {
				return notOnFile(c.Context(), h, r.BoatID, doubted(err))
			}
			id := w.Records[0].ID
			return a.printChange(r.BoatID, id, fmt.Sprintf("Recorded %s on %s (record %s).", r.Service, a.format.Date(r.Day), id), &did)
		}),
	}
	f := c.Flags()
	f.StringVar(&r.ComponentID, "component", "", "the `component` worked on; without it the whole boat")
	f.StringVar(&day, "day", "", "`day` of the work, YYYY-MM-DD; without it today")
	f.StringVar(&hours, "hours", "", "the `hours` on the component's meter that day")
	f.StringVar(&amount, "amount", "0", "what the customer paid, before tax")
	f.StringVar(&r.By, "by", schedule.ByShop, "shop, elsewhere or before-sale")
	f.BoolVar(&sure, "sure", false, "record it although it looks wrong")
	f.StringVar(&r.Note, "note", "", "a note")
	return c
}

// meterNamed refuses hours that would be kept and never counted: a figure is of
// one meter.
func meterNamed(ctx context.Context, h *app.App, r *schedule.Record, today civil.Day) error {
	if !r.HasHours || r.ComponentID != "" {
		return nil
	}
	f, err := h.Facts(ctx, r.BoatID)
	if errors.Is(err, store.ErrNotFound) {
		return noBoat(r.BoatID)
	}
	if err != nil {
		return err
	}
	var meters []string
	for _, o := range h.Planner.HoursOutlook(&f, today) {
		meters = append(meters, o.Component.ID)
	}
	if len(meters) == 0 {
		return usagef("--hours: boat %q has no hour meter", r.BoatID)
	}
	return usagef("--hours: of which meter? Name it with --component: %s", strings.Join(meters, ", "))
}

func readRecordFlags(r *schedule.Record, day, hours, amount string) error {
	var err error
	if day != "" {
		if r.Day, err = civil.Parse(day); err != nil {
			return usagef("--day: %w", err)
		}
	}
	if hours != "" {
		if r.Hours, err = measure.ParseHours(hours); err != nil {
			return usagef("--hours: %w", err)
		}
		r.HasHours = true
	}
	if r.Amount, err = measure.ParseCents(amount); err != nil {
		return usagef("--amount: %w", err)
	}
	if !slices.Contains(schedule.Doers, r.By) {
		return usagef("--by %q: want shop, elsewhere or before-sale", r.By)
	}
	return nil
}

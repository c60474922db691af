package main

import (
	"errors"
	"fmt"
	"slices"

	"github.com/spf13/cobra"

	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/measure"
	"bellbuoy/store"
)

func recordCommand(a *app) *cobra.Command {
	var r schedule.Record
	var day, hours, amount string
	c := &cobra.Command{
		Use:   "record BOAT SERVICE",
		Short: "Write down work that was done, and plan anew",
		Example: `  bellbuoy record HERON impeller --component HERON-E1 --hours 236.5 --amount 184.00
  bellbuoy record HERON lay-up --day 2026-10-02 --by elsewhere`,
		Args: cobra.ExactArgs(2),
		RunE: func(c *cobra.Command, args []string) error {
			h, err := a.house(c.Context())
			if err != nil {
				return err
			}
			defer h.Close()
			today, err := a.today(h.Config)
			if err != nil {
				return err
			}
			r.BoatID, r.Service, r.Day = args[0], args[1], today
			if err := readRecordFlags(&r, day, hours, amount); err != nil {
				return err
			}
			if r.Day > today {
				return usagef("--day %s: still to come; record work when it is done", r.Day)
			}
			if cat := h.Planner.Catalogue(); !cat.HasService(r.Service) {
				return hinted{fmt.Errorf("service %q: not in the catalogue", r.Service), "\"bellbuoy rules list\" shows the codes"}
			}
			now, err := a.instant(h.Config)
			if err != nil {
				return err
			}
			if _, err := h.DB.Boat(c.Context(), r.BoatID); errors.Is(err, store.ErrNotFound) {
				return noBoat(r.BoatID)
			}
			before, err := h.DB.Plan(c.Context(), r.BoatID)
			if err != nil {
				return err
			}
			saved, err := h.DB.AddRecord(c.Context(), now, "command line", r)
			if err != nil {
				return err
			}
			if _, err := h.Settle(c.Context(), now, today, nil); err != nil {
				return err
			}
			after, err := h.DB.Plan(c.Context(), r.BoatID)
			if err != nil {
				return err
			}
			a.printf("Recorded %s on %s (record %s).\n", r.Service, r.Day, saved.ID)
			for _, line := range planChanges(&before, &after) {
				a.printf("  %s\n", line)
			}
			return nil
		},
	}
	f := c.Flags()
	f.StringVar(&r.ComponentID, "component", "", "the `component` worked on; without it the whole boat")
	f.StringVar(&day, "day", "", "`day` of the work, YYYY-MM-DD; without it today")
	f.StringVar(&hours, "hours", "", "the meter's `hours` on that day")
	f.StringVar(&amount, "amount", "0", "what the customer paid, before tax")
	f.StringVar(&r.By, "by", schedule.ByShop, "shop, elsewhere or before-sale")
	f.StringVar(&r.Note, "note", "", "anything worth remembering")
	return c
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

// planChanges words what a change of facts did to a plan.
func planChanges(before, after *schedule.BoatPlan) []string {
	was := make(map[string]civil.Day)
	name := func(it *schedule.DueItem) string { return it.ComponentID + " " + it.Rule }
	for i := range before.Items {
		it := &before.Items[i]
		if d, ok := was[name(it)]; !ok || it.Due < d {
			was[name(it)] = it.Due
		}
	}
	var out []string
	seen := make(map[string]bool)
	for i := range after.Items {
		it := &after.Items[i]
		n := name(it)
		if seen[n] {
			continue
		}
		seen[n] = true
		switch d, ok := was[n]; {
		case !ok:
			out = append(out, fmt.Sprintf("%s: now due %s", n, it.Due))
		case d != it.Due:
			out = append(out, fmt.Sprintf("%s: due %s instead of %s", n, it.Due, d))
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

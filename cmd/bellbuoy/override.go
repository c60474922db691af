package main

import (
	"context"
	"errors"
	"fmt"
	"time"

	"github.com/spf13/cobra"

	"bellbuoy/cmd/bellbuoy/internal/app"
	"bellbuoy/schedule"
	"bellbuoy/schedule/measure"
	"bellbuoy/store"
)

func overrideCommand(a *cli) *cobra.Command {
	var o schedule.Override
	var hours string
	var remove, sure bool
	var winter string
	c := &cobra.Command{
		Use:   "override BOAT [RULE]",
		Short: "Change a rule for one boat or one engine, or put it back with --remove",
		Long: `Sets what this boat's or this engine's own manual says in place of the
catalog's interval, says that the boat has no such part, or that the owner
does it. Without --component it holds for every component of the boat
that the rule applies to; one given for a component goes before one for the boat.
Whole engine families belong in the shop's rule file. What is a matter of safety
is given to an owner with --sure only. Without a rule, --winter-work says whether
the owner agrees that what is done cold is done in the winter, while the boat is in
our storage.`,
		Example: `  bellbuoy override PERCH impeller --component PERCH-E1 --months 24 --hours 200 \
      --source "this engine's manual, p. 60"
  bellbuoy override PERCH trailer-bearings --by-customer --sure
  bellbuoy override PERCH valve-clearance --skip --source "hydraulic lifters"
  bellbuoy override PERCH impeller --component PERCH-E1 --remove
  bellbuoy override PERCH --winter-work yes`,
		Args: cobra.RangeArgs(1, 2),
		RunE: a.withChange(func(c *cobra.Command, h *app.App, now time.Time, args []string) error {
			if c.Flags().Changed("winter-work") {
				return a.winterWork(c.Context(), h, now, args, winter)
			}
			if len(args) < 2 {
				return usagef("override: name a rule; \"bellbuoy rules list\" shows the codes")
			}
			o.BoatID, o.Rule = args[0], args[1]
			if err := readOverride(&o, hours, remove); err != nil {
				return err
			}
			return a.override(c.Context(), h, now, o, remove, sure)
		}),
	}
	f := c.Flags()
	f.StringVar(&o.ComponentID, "component", "", "for this `component` only")
	f.IntVar(&o.Months, "months", 0, "`months` in place of the rule's")
	f.StringVar(&hours, "hours", "", "engine `hours` in place of the rule's")
	f.BoolVar(&o.Skip, "skip", false, "not on this boat")
	f.BoolVar(&o.ByCustomer, "by-customer", false, "the owner does this: planned and shown, never reminded or billed")
	f.BoolVar(&sure, "sure", false, "yes, the owner does this although it is a matter of safety")
	f.StringVar(&o.Source, "source", "", "where the change comes from, `words` that its reason will quote")
	f.StringVar(&winter, "winter-work", "", "`yes` or no: the owner agrees to work on the boat in our storage")
	f.BoolVar(&remove, "remove", false, "back to what the catalog says")
	return c
}

func (a *cli) winterWork(ctx context.Context, h *app.App, now time.Time, args []string, says string) error {
	if len(args) != 1 || says != "yes" && says != "no" {
		return usagef("--winter-work: want yes or no, and the boat alone")
	}
	did, err := h.SetWinterWork(ctx, now, actor, args[0], says == "yes")
	if err != nil {
		return notOnFile(ctx, h, args[0], err)
	}
	note := "What can be done cold is planned for the winter, while the boat is in our storage."
	if says == "no" {
		note = "No work is planned for the winter."
	}
	return a.printChange(args[0], "", note, &did)
}

func readOverride(o *schedule.Override, hours string, remove bool) error {
	if hours != "" {
		var err error
		if o.Hours, err = measure.ParseHours(hours); err != nil {
			return usagef("--hours: %w", err)
		}
	}
	figures := o.Months != 0 || o.Hours != 0
	switch {
	case remove && (figures || o.Skip || o.ByCustomer || o.Source != ""):
		return usagef("--remove: takes nothing but --component beside it")
	case remove:
		return nil
	case o.Months < 0 || o.Months > 1200:
		return usagef("--months %d: want 1 to 1200", o.Months)
	case o.Skip && (figures || o.ByCustomer):
		return usagef("--skip: a rule that does not apply has no interval and nobody to do it")
	case !figures && !o.Skip && !o.ByCustomer:
		return usagef("override: say what changes: --months, --hours, --skip or --by-customer")
	case figures && o.Source == "":
		return usagef("--source: missing; say where the changed figure comes from, for example the manual and its page")
	}
	return nil
}

func (a *cli) override(ctx context.Context, h *app.App, now time.Time, o schedule.Override, remove, sure bool) error {
	r, ok := h.Planner.Catalogue().Rule(o.Rule)
	switch {
	case !ok && !remove:
		return hinted{fmt.Errorf("rule %q: not in the catalog", o.Rule), "\"bellbuoy rules list\" shows the codes"}
	case ok && r.Safety && o.ByCustomer && !sure:
		return usagef("--by-customer: %q is a matter of safety; say --sure too if the owner is to do it", o.Rule)
	}
	if remove {
		return a.removeOverride(ctx, h, now, o)
	}
	if err := checkOverride(ctx, h, &o); err != nil {
		return err
	}
	did, err := h.SetOverride(ctx, now, actor, o)
	if err != nil {
		return notOnFile(ctx, h, o.BoatID, err)
	}
	return a.printChange(o.BoatID, "", fmt.Sprintf("Rule %s is changed on %s.", o.Rule, on(&o)), &did)
}

func (a *cli) removeOverride(ctx context.Context, h *app.App, now time.Time, o schedule.Override) error {
	if _, err := h.DB.Boat(ctx, o.BoatID); err != nil {
		return notOnFile(ctx, h, o.BoatID, err)
	}
	did, err := h.RemoveOverride(ctx, now, actor, o)
	if errors.Is(err, store.ErrNotFound) {
		return fmt.Errorf("rule %q on %q: not overridden there", o.Rule, on(&o))
	}
	if err != nil {
		return err
	}
	return a.printChange(o.BoatID, "", fmt.Sprintf("Rule %s on %s is the catalog's again.", o.Rule, on(&o)), &did)
}

func on(o *schedule.Override) string {
	if o.ComponentID != "" {
		return o.ComponentID
	}
	return o.BoatID
}

// checkOverride refuses what would change nothing: a rule of another kind of
// component, or a figure that the rule does not count in.
func checkOverride(ctx context.Context, h *app.App, o *schedule.Override) error {
	r, _ := h.Planner.Catalogue().Rule(o.Rule)
	if r.Every.IsZero() && (o.Months != 0 || o.Hours != 0) {
		return fmt.Errorf("rule %q: it goes by season or by a printed day and has no interval to change", o.Rule)
	}
	f, err := h.DB.Facts(ctx, o.BoatID)
	if errors.Is(err, store.ErrNotFound) {
		return noBoat(o.BoatID)
	}
	if err != nil || o.ComponentID == "" {
		return err
	}
	for i := range f.Components {
		c := &f.Components[i]
		if c.ID == o.ComponentID && !r.Matches(c.Kind, c.Attr.Get) {
			return fmt.Errorf("rule %q: does not apply to component %q", o.Rule, o.ComponentID)
		}
	}
	return nil
}

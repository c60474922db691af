package main

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"bellbuoy/cmd/bellbuoy/internal/app"
	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/store"
)

func followUpCommand(a *cli) *cobra.Command {
	var fu schedule.FollowUp
	var days int
	var by, remove string
	c := &cobra.Command{
		Use:   "followup BOAT SERVICE",
		Short: "Note a finding that must be checked again, once",
		Long: `Notes a finding and by when it must be checked again. It is planned as a
one-off job and is done with as soon as SERVICE is recorded on the boat (on the
component, if one is given) after the day of the finding.`,
		Example: `  bellbuoy followup PERCH gear-lube --component PERCH-E1 --finding "lube milky, seal suspected" --recheck-days 30
  bellbuoy followup PERCH --remove 5f3a9c`,
		Args: cobra.RangeArgs(1, 2),
		RunE: a.withChange(func(c *cobra.Command, h *app.App, now time.Time, args []string) error {
			fu.BoatID = args[0]
			if remove != "" {
				return a.dropFollowUp(c.Context(), h, now, fu.BoatID, remove)
			}
			if len(args) < 2 {
				return usagef("followup: the service is missing that will close it")
			}
			fu.Service = args[1]
			return a.followUp(c.Context(), h, now, fu, days, by)
		}),
	}
	f := c.Flags()
	f.StringVar(&fu.ComponentID, "component", "", "the `component` that the finding is about")
	f.StringVar(&fu.Finding, "finding", "", "what was found, in `words` that its reason will quote")
	f.StringVar(&fu.Title, "title", "", "what is to be done, in plain `words`; made from the finding unless given")
	f.IntVar(&days, "recheck-days", app.RecheckDays, "to be checked again in this many `days`")
	f.StringVar(&by, "by", "", "to be checked again by this `day` (YYYY-MM-DD), instead of --recheck-days")
	f.StringVar(&remove, "remove", "", "drop the follow-up of this `id`: it is no longer wanted")
	return c
}

func (a *cli) followUp(ctx context.Context, h *app.App, now time.Time, fu schedule.FollowUp, days int, by string) error {
	fu.Finding = strings.TrimSpace(fu.Finding)
	if fu.Finding == "" {
		return usagef("--finding: missing; say what was found")
	}
	if !h.Planner.Catalogue().HasService(fu.Service) {
		return hinted{fmt.Errorf("service %q: not in the catalog", fu.Service), "\"bellbuoy rules list\" shows the codes"}
	}
	fu.Raised = civil.FromTime(now)
	if fu.Due = fu.Raised + civil.Day(days); by != "" {
		var err error
		if fu.Due, err = civil.Parse(by); err != nil {
			return usagef("--by: %w", err)
		}
	}
	if fu.Due <= fu.Raised {
		return usagef("followup: %s is not after today, %s", fu.Due, fu.Raised)
	}
	w := store.Work{BoatID: fu.BoatID, FollowUps: []schedule.FollowUp{fu}}
	did, err := h.Record(ctx, now, actor, "", &w, true)
	if err != nil {
		return notOnFile(ctx, h, fu.BoatID, err)
	}
	id := w.FollowUps[0].ID
	return a.printChange(fu.BoatID, id, fmt.Sprintf("To be checked again by %s (follow-up %s).", a.format.Date(fu.Due), id), &did)
}

func (a *cli) dropFollowUp(ctx context.Context, h *app.App, now time.Time, boatID, id string) error {
	if _, err := h.DB.Boat(ctx, boatID); err != nil {
		return notOnFile(ctx, h, boatID, err)
	}
	did, err := h.RemoveFollowUp(ctx, now, actor, boatID, id)
	if errors.Is(err, store.ErrNotFound) {
		return fmt.Errorf("follow-up %q: boat %q has none of that id", id, boatID)
	}
	if err != nil {
		return err
	}
	return a.printChange(boatID, "", fmt.Sprintf("Follow-up %s is dropped.", id), &did)
}

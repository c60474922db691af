package main

import (
	"context"
	"errors"
	"fmt"
	"strings"

	"github.com/spf13/cobra"

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
		Short: "Note a finding that somebody must look at again, once",
		Long: `Notes a finding and by when it must be looked at again. It is planned as a
one-off job and is done with as soon as SERVICE is recorded on the boat (on the
component, if one is given) after the day of the finding.`,
		Example: `  bellbuoy followup PERCH gear-lube --component PERCH-E1 --finding "lube milky, seal suspected" --recheck-days 30
  bellbuoy followup PERCH --remove 5f3a9c`,
		Args: cobra.RangeArgs(1, 2),
		RunE: func(c *cobra.Command, args []string) error {
			fu.BoatID = args[0]
			if remove != "" {
				return a.dropFollowUp(c.Context(), fu.BoatID, remove)
			}
			if len(args) < 2 {
				return usagef("followup: the service is missing that will close it")
			}
			fu.Service = args[1]
			return a.followUp(c.Context(), fu, days, by)
		},
	}
	f := c.Flags()
	f.StringVar(&fu.ComponentID, "component", "", "the `component` that the finding is about")
	f.StringVar(&fu.Finding, "finding", "", "what was found, in `words` that its reason will quote")
	f.StringVar(&fu.Title, "title", "", "what is to be done, in plain `words`; made from the service unless given")
	f.IntVar(&days, "recheck-days", 30, "to be looked at again in so many `days`")
	f.StringVar(&by, "by", "", "to be looked at again by this `day` (YYYY-MM-DD), instead of --recheck-days")
	f.StringVar(&remove, "remove", "", "drop the follow-up of this `id`: it is no longer wanted")
	return c
}

func (a *cli) followUp(ctx context.Context, fu schedule.FollowUp, days int, by string) error {
	fu.Finding = strings.TrimSpace(fu.Finding)
	if fu.Finding == "" {
		return usagef("--finding: missing; say what was found")
	}
	d, err := a.desk(ctx)
	if err != nil {
		return err
	}
	defer d.Close()
	cat := d.Planner.Catalogue()
	if !cat.HasService(fu.Service) {
		return hinted{fmt.Errorf("service %q: not in the catalogue", fu.Service), "\"bellbuoy rules list\" shows the codes"}
	}
	if fu.Title == "" {
		fu.Title = cat.ServiceTitle(fu.Service) + ": looked at again"
	}
	if fu.Raised, fu.Due = d.today, d.today+civil.Day(days); by != "" {
		if fu.Due, err = civil.Parse(by); err != nil {
			return usagef("--by: %w", err)
		}
	}
	if fu.Due <= fu.Raised {
		return usagef("followup: %s is not after today, %s", fu.Due, fu.Raised)
	}
	did, err := d.change(ctx, fu.BoatID, func() (err error) {
		fu, err = d.DB.AddFollowUp(ctx, d.now, actor, fu)
		return err
	})
	if err != nil {
		return err
	}
	return a.printChange(fu.BoatID, fu.ID, fmt.Sprintf("To be looked at again by %s (follow-up %s).", fu.Due, fu.ID), did)
}

func (a *cli) dropFollowUp(ctx context.Context, boatID, id string) error {
	d, err := a.desk(ctx)
	if err != nil {
		return err
	}
	defer d.Close()
	did, err := d.change(ctx, boatID, func() error {
		err := d.DB.RemoveFollowUp(ctx, d.now, actor, boatID, id)
		if errors.Is(err, store.ErrNotFound) {
			return fmt.Errorf("follow-up %q: boat %q has none of that id", id, boatID)
		}
		return err
	})
	if err != nil {
		return err
	}
	return a.printChange(boatID, "", fmt.Sprintf("Follow-up %s is dropped.", id), did)
}

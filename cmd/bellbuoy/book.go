package main

import (
	"errors"
	"fmt"
	"time"

	"github.com/spf13/cobra"

	"bellbuoy/cmd/bellbuoy/internal/round"
	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
)

func bookCommand(a *app) *cobra.Command {
	var at string
	var off bool
	c := &cobra.Command{
		Use:   "book BOAT VISIT [DAY]",
		Short: "Fix the day of a visit, or with --off make it pencilled again",
		Example: `  bellbuoy book HERON HERON.lay-up.2026 2026-09-22 --at 09:00
  bellbuoy book HERON HERON.lay-up.2026 --off`,
		Args: cobra.RangeArgs(2, 3),
		RunE: a.inHouse(func(c *cobra.Command, h *round.House, now time.Time, args []string) error {
			today := civil.FromTime(now)
			var err error
			if off {
				err = h.DB.Unbook(c.Context(), now, "command line", args[1])
			} else {
				var b schedule.Booking
				if b, err = bookingFrom(args, at); err != nil {
					return err
				}
				if b.Kind, err = visitKind(c, h, args[0], args[1]); err != nil {
					return err
				}
				err = h.DB.Book(c.Context(), now, "command line", b)
			}
			if err != nil {
				return err
			}
			if _, err := h.Settle(c.Context(), now, today, nil); err != nil {
				return err
			}
			if err := h.Answer(c.Context(), now, args[0]); err != nil {
				return err
			}
			a.printf("%s\n", bookedWords(args, at, off))
			return nil
		}),
	}
	c.Flags().StringVar(&at, "at", "", "`time` of day at which the boat is expected, HH:MM")
	c.Flags().BoolVar(&off, "off", false, "the booking is off")
	return c
}

func bookingFrom(args []string, at string) (schedule.Booking, error) {
	b := schedule.Booking{BoatID: args[0], VisitID: args[1], Minute: -1}
	if len(args) < 3 {
		return b, usagef("book: the day is missing")
	}
	var err error
	if b.Day, err = civil.Parse(args[2]); err != nil {
		return b, usagef("book: %w", err)
	}
	if at != "" {
		t, err := time.Parse("15:04", at)
		if err != nil {
			return b, usagef("--at %q: want a time of day such as 09:00", at)
		}
		b.Minute = t.Hour()*60 + t.Minute()
	}
	return b, nil
}

// bookedWords says what was done.
func bookedWords(args []string, at string, off bool) string {
	switch {
	case off:
		return "Booking of " + args[1] + " is off; the visit is pencilled again."
	case at != "":
		return "Booked " + args[1] + " for " + args[2] + " at " + at + "."
	}
	return "Booked " + args[1] + " for " + args[2] + "."
}

// errNoVisit says that a boat's plan has no such visit.
var errNoVisit = errors.New("no such visit in the boat's plan")

// visitKind looks a visit up in the boat's plan.
func visitKind(c *cobra.Command, h *round.House, boat, visit string) (string, error) {
	plan, err := h.DB.Plan(c.Context(), boat)
	if err != nil {
		return "", err
	}
	for _, v := range plan.Visits {
		if v.ID == visit {
			return v.Kind, nil
		}
	}
	return "", hinted{fmt.Errorf("visit %q: %w", visit, errNoVisit), "\"bellbuoy plan " + boat + " --json\" shows the visits and their ids"}
}

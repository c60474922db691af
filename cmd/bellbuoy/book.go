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

func bookCommand(a *cli) *cobra.Command {
	var at string
	var off, over, sure, byCustomer bool
	var because string
	c := &cobra.Command{
		Use:   "book BOAT VISIT [DAY]",
		Short: "Book the day of a visit, or with --off cancel the booking",
		Long: `Books the day of a visit. VISIT is an id that "bellbuoy plan BOAT" shows, or
lay-up, fit-out or service for the boat's next visit of that kind. A week that is
full is refused; --over books it anyway.`,
		Example: `  bellbuoy book HERON lay-up 2026-09-22 --at 09:00
  bellbuoy book HERON HERON.lay-up.2026 --off --because "Our lift is down."
  bellbuoy book HERON HERON.lay-up.2026 --off --by-customer`,
		Args: cobra.RangeArgs(2, 3),
		RunE: a.withChange(func(c *cobra.Command, h *app.App, now time.Time, args []string) error {
			b, err := bookingFrom(args, at, off, civil.FromTime(now))
			if err != nil {
				return err
			}
			if _, err := h.Settle(c.Context(), now, civil.FromTime(now), nil); err != nil {
				return err
			}
			v, err := visitNamed(c.Context(), h, args[0], args[1])
			if off && errors.Is(err, errNoVisit) {
				v, err = strayBooking(c.Context(), h, args[0], args[1], err)
			}
			if err != nil {
				return err
			}
			b.VisitID, b.Kind, b.Over, b.Reason = v.ID, v.Kind, over, because
			var did app.Change
			was := v.Booking.When()
			if off {
				did, err = h.Unbook(c.Context(), now, actor, b.BoatID, v.ID, &was, calledOff(because, byCustomer))
				if errors.Is(err, store.ErrNotFound) {
					err = fmt.Errorf("visit %q: not booked, so there is nothing to cancel", v.ID)
				}
			} else {
				did, err = h.Book(c.Context(), now, actor, b, &was, sure)
				if full := (*app.FullWeek)(nil); errors.As(err, &full) {
					err = hinted{err, "choose another day (\"bellbuoy weeks\" shows what is open), or book it anyway with --over"}
				}
			}
			if err != nil {
				return doubted(err)
			}
			words := strings.Join(append([]string{a.bookedWords(&b, off, v.NothingLeft())}, did.Words(a.format)...), "\n")
			return a.done(bookedJSON{args[0], v.ID, b.Day, at, !off}, "%s", words)
		}),
	}
	c.Flags().StringVar(&at, "at", "", "`time` of day at which the boat is expected, HH:MM")
	c.Flags().StringVar(&because, "because", "", "why you have to move the visit, or with --off cancel it, a `sentence` that its customer reads with an apology; without it the email says that it was agreed")
	c.Flags().BoolVar(&byCustomer, "by-customer", false, "with --off, the customer canceled it")
	c.MarkFlagsMutuallyExclusive("because", "by-customer")
	c.Flags().BoolVar(&off, "off", false, "cancel the booking")
	c.Flags().BoolVar(&sure, "sure", false, "book it although the day looks wrong")
	c.Flags().BoolVar(&over, "over", false, "book it even if the week is full")
	return c
}

// bookedJSON is what "book --json" prints. The day is "" and booked false after
// --off; at is "" for any time of the day.
type bookedJSON struct {
	BoatID  string    `json:"boat_id"`
	VisitID string    `json:"visit_id"`
	Day     civil.Day `json:"day"`
	At      string    `json:"at"`
	Booked  bool      `json:"booked"`
}

// bookingFrom reads the call; --off needs no day.
func bookingFrom(args []string, at string, off bool, today civil.Day) (schedule.Booking, error) {
	b := schedule.Booking{BoatID: args[0], Minute: -1}
	switch {
	case off && (len(args) > 2 || at != ""):
		return b, usagef("book: --off takes no day and no time")
	case off:
		return b, nil
	case len(args) < 3:
		return b, usagef("book: the day is missing")
	}
	var err error
	if b.Day, err = civil.Parse(args[2]); err != nil {
		return b, usagef("book: %w", err)
	}
	if b.Day < today {
		return b, usagef("book: %s is in the past; choose a day from today on, %s", b.Day, today)
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

// calledOff is on whose wish a booking is canceled, nil if it is not said.
func calledOff(because string, byCustomer bool) *schedule.CalledOff {
	if because == "" && !byCustomer {
		return nil
	}
	return &schedule.CalledOff{ByShop: !byCustomer, Reason: because}
}

// bookedWords says what was done.
func (a *cli) bookedWords(b *schedule.Booking, off, nothingLeft bool) string {
	switch {
	case off && nothingLeft:
		return "Booking of " + b.VisitID + " is canceled; nothing of it was left to do."
	case off:
		return "Booking of " + b.VisitID + " is canceled; the visit is penciled in again."
	case b.Minute >= 0:
		return "Booked " + b.VisitID + " for " + a.format.WeekdayDate(b.Day) + " at " + a.format.Clock(b.Minute) + "."
	}
	return "Booked " + b.VisitID + " for " + a.format.WeekdayDate(b.Day) + "."
}

// errNoVisit says that a boat's plan has no such visit.
var errNoVisit = errors.New("no such visit in the boat's plan")

// visitNamed finds a visit in the boat's plan by its id, or the next of a kind.
func visitNamed(ctx context.Context, h *app.App, boat, name string) (schedule.Visit, error) {
	if _, err := h.DB.Boat(ctx, boat); errors.Is(err, store.ErrNotFound) {
		return schedule.Visit{}, noBoat(boat)
	}
	plan, err := h.DB.Plan(ctx, boat)
	if err != nil {
		return schedule.Visit{}, err
	}
	kind := name
	if name == "service" {
		kind = schedule.Extra
	}
	var next *schedule.Visit
	for i := range plan.Visits {
		v := &plan.Visits[i]
		if v.ID == name {
			return *v, nil
		}
		if v.Kind == kind && (next == nil || v.Day < next.Day) {
			next = v
		}
	}
	if next == nil {
		return schedule.Visit{}, hinted{fmt.Errorf("visit %q: %w", name, errNoVisit), "\"bellbuoy plan " + boat + "\" shows the visits and their ids"}
	}
	return *next, nil
}

// strayBooking finds a booked day that the boat's plan has no visit for any more, as
// "bellbuoy check" names it; else it returns fault.
func strayBooking(ctx context.Context, h *app.App, boat, name string, fault error) (schedule.Visit, error) {
	f, err := h.Facts(ctx, boat)
	if err != nil {
		return schedule.Visit{}, err
	}
	for i := range f.Bookings {
		if b := &f.Bookings[i]; b.VisitID == name {
			return schedule.Visit{ID: name, BoatID: boat, Kind: b.Kind, Booking: b}, nil
		}
	}
	return schedule.Visit{}, fault
}

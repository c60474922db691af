package main

import (
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

func planCommand(a *cli) *cobra.Command {
	return &cobra.Command{
		Use:   "plan BOAT",
		Short: "One boat's plan: its visits, what each carries, and why",
		Long: `Prints a boat's visits, the jobs of each and why, with the ids that "book" and
"record" take. Boat ids are those of boats.csv; "bellbuoy due" shows some. Intervals
are defaults: the engine maker's manual, local codes and a licensed technician come
first.`,
		Example: `  bellbuoy plan B00012
  bellbuoy plan B00012 --today 2027-04-01`,
		Args: cobra.ExactArgs(1),
		RunE: a.withPlan(func(c *cobra.Command, h *app.App, now time.Time, args []string) error {
			today := civil.FromTime(now)
			f, err := h.Facts(c.Context(), args[0])
			if errors.Is(err, store.ErrNotFound) {
				return noBoat(args[0])
			}
			if err != nil {
				return err
			}
			plan := h.Planner.Plan(&f, today)
			view := h.Planner.View(&f, &plan)
			if a.asJSON {
				return a.printJSON(planAsJSON(&view, &plan, today))
			}
			a.printPlan(&view, &plan, today)
			return nil
		}),
	}
}

func noBoat(id string) error {
	return hinted{fmt.Errorf("boat %q: no such boat", id), "boat ids are those of boats.csv; \"bellbuoy due\" shows some"}
}

// planJSON is what "plan --json" prints; units as in dueWeek.
type planJSON struct {
	BoatID   string      `json:"boat_id"`
	Boat     string      `json:"boat"`
	Today    civil.Day   `json:"today"`
	Visits   []visitJSON `json:"visits"`
	Items    []itemJSON  `json:"items"` // all of them, also those that no visit carries yet
	Problems []string    `json:"problems,omitempty"`
}

type visitJSON struct {
	ID       string     `json:"id"`
	Kind     string     `json:"kind"`
	Title    string     `json:"title"`
	Why      string     `json:"why"`
	WeekWhy  string     `json:"week_why,omitempty"` // why in this shop week
	Open     civil.Day  `json:"open"`
	Close    civil.Day  `json:"close"`
	Day      civil.Day  `json:"day"`
	Deadline civil.Day  `json:"deadline"`
	Week     civil.Week `json:"week"`
	Booked   civil.Day  `json:"booked"`
	Labour   int        `json:"labor_minutes"`
	Price    string     `json:"price"`
	Items    []itemJSON `json:"items"`
}

type itemJSON struct {
	Key         string    `json:"key"`
	Rule        string    `json:"rule"`
	Component   string    `json:"component_id"`
	Title       string    `json:"title"`
	Due         civil.Day `json:"due"`
	Open        civil.Day `json:"open"`
	Close       civil.Day `json:"close"`
	Basis       string    `json:"basis"`
	ByDate      civil.Day `json:"by_date"`
	ByHours     civil.Day `json:"by_hours"`
	HoursMedian civil.Day `json:"by_hours_median"`
	HoursLate   civil.Day `json:"by_hours_late"`
	HoursAt     string    `json:"hours_at,omitempty"`
	Visit       string    `json:"visit"`
	ByCustomer  bool      `json:"by_customer"`
	Included    bool      `json:"included"`
	Labour      int       `json:"labor_minutes"`
	Price       string    `json:"price"`
	Why         string    `json:"why"`
	Source      string    `json:"source"`
	Consequence string    `json:"consequence"`
	Cautions    []string  `json:"cautions,omitempty"`
}

func planAsJSON(v *schedule.BoatView, plan *schedule.BoatPlan, today civil.Day) planJSON {
	out := planJSON{BoatID: v.Boat.ID, Boat: v.Boat.Title(), Today: today, Visits: []visitJSON{}, Items: []itemJSON{}, Problems: plan.Problems}
	for i := range v.Visits {
		vj := visitAsJSON(&v.Visits[i])
		out.Visits = append(out.Visits, vj)
		out.Items = append(out.Items, vj.Items...)
	}
	for i := range v.Loose {
		out.Items = append(out.Items, itemAsJSON(&v.Loose[i]))
	}
	return out
}

func visitAsJSON(v *schedule.VisitView) visitJSON {
	x := &v.Visit
	out := visitJSON{
		ID: x.ID, Kind: x.Kind, Title: v.Title, Why: v.Why, WeekWhy: v.WeekWhy, Open: x.Open, Close: x.Close, Day: x.Day,
		Deadline: x.Deadline, Week: x.Week, Labour: x.Labour, Price: x.Price.String(), Items: []itemJSON{},
	}
	if x.Booking != nil {
		out.Booked = x.Booking.Day
	}
	for i := range v.Lines {
		out.Items = append(out.Items, itemAsJSON(&v.Lines[i]))
	}
	return out
}

func itemAsJSON(l *schedule.Line) itemJSON {
	it := &l.Item
	out := itemJSON{
		Key: it.Key(), Rule: it.Rule, Component: it.ComponentID, Title: l.Title,
		Due: it.Due, Open: it.Open, Close: it.Close, Basis: string(it.Basis),
		ByDate: it.ByDate, ByHours: it.ByHours, HoursMedian: it.HoursMedian, HoursLate: it.HoursLate,
		Visit: it.VisitID, ByCustomer: it.ByCustomer, Included: l.Included,
		Labour: it.Labour, Price: it.Price.String(),
		Why: l.Why, Source: l.Source, Consequence: l.Consequence, Cautions: l.Cautions,
	}
	if it.HoursAt > 0 {
		out.HoursAt = it.HoursAt.String()
	}
	return out
}

func (a *cli) printPlan(v *schedule.BoatView, plan *schedule.BoatPlan, today civil.Day) {
	a.printf("%s (%s), as of %s\n", v.Boat.Title(), v.Boat.ID, a.format.Date(today))
	for i := range v.Visits {
		vv := &v.Visits[i]
		a.printf("\n%s  %s%s (%s)\n            %s\n", vv.Visit.Day, vv.Title, a.visitFacts(&vv.Visit), vv.Visit.ID, strings.TrimSpace(vv.Why+" "+vv.WeekWhy))
		for j := range vv.Lines {
			a.printLine(&vv.Lines[j])
		}
	}
	if len(v.Loose) > 0 {
		a.printf("\nLater, or the owner's own\n")
		for i := range v.Loose {
			a.printLine(&v.Loose[i])
		}
	}
	for _, p := range plan.Problems {
		a.printf("\nnote: %s\n", p)
	}
	a.printf("\n%s\n", manualFirst)
}

func (a *cli) printLine(l *schedule.Line) {
	a.printf("  %s  %s. %s\n", l.Item.Due, l.Title, l.Why)
	if l.Source != "" {
		a.printf("              Source: %s.\n", l.Source)
	}
}

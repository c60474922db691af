package main

import (
	"cmp"
	"context"
	"fmt"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"bellbuoy/cmd/bellbuoy/internal/app"
	"bellbuoy/cmd/bellbuoy/internal/config"
	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/level"
	"bellbuoy/schedule/words"
)

func weeksCommand(a *cli) *cobra.Command {
	var n int
	c := &cobra.Command{
		Use:   "weeks",
		Short: "The shop's weeks: hours available, booked, penciled in, open, and what does not fit",
		Long: `Prints the shop's weeks as a picture of hours: available, booked, penciled in and
open, and which visits will miss their deadline.`,
		Example: `  bellbuoy weeks --count 12`,
		Args:    cobra.NoArgs,
		RunE: a.withPlan(func(c *cobra.Command, h *app.App, now time.Time, _ []string) error {
			if n < 1 || n > 78 {
				return usagef("--count %d: want 1 to 78", n)
			}
			w, err := h.Fit(c.Context(), civil.FromTime(now))
			if err != nil {
				return err
			}
			if a.asJSON {
				return a.printJSON(weeksAsJSON(w, n, h.Config))
			}
			return a.printWeeks(c.Context(), h, w, n)
		}),
	}
	c.Flags().IntVar(&n, "count", 52, "how many weeks to show")
	return c
}

// weeksJSON is what "weeks --json" prints; all times in minutes of labour.
type weeksJSON struct {
	Peak       float64         `json:"peak_utilization"`
	BeforePeak float64         `json:"peak_before_leveling"`
	BeforeMean float64         `json:"mean_before_leveling"`
	Mean       float64         `json:"mean_utilization"`
	Moved      int             `json:"moved"`
	ToldMoved  int             `json:"moved_though_reminded"`
	Weeks      []weekJSON      `json:"weeks"`
	Short      []shortfallJSON `json:"shortfall"`
	AtRisk     []string        `json:"will_miss_deadline"`
}

type weekJSON struct {
	Week      civil.Week `json:"week"`
	Clocked   int        `json:"clocked"`
	Capacity  int        `json:"capacity"`
	Target    int        `json:"target"`
	Booked    int        `json:"booked"`
	Pencilled int        `json:"penciled"`
	Yard      *takenJSON `json:"yard,omitempty"`  // minutes of the yard crew
	Lifts     *takenJSON `json:"lifts,omitempty"` // boats hauled or launched
	Visits    []string   `json:"visits"`
}

// takenJSON is what a week has of something that the settings limit, and what of
// that its visits take.
type takenJSON struct {
	Capacity int `json:"capacity"`
	Taken    int `json:"taken"`
}

type shortfallJSON struct {
	Week  civil.Week `json:"week"`
	Over  int        `json:"over"`
	Yard  int        `json:"yard,omitempty"`
	Lifts int        `json:"lifts,omitempty"`
	Jobs  []string   `json:"visits"`
}

func weeksAsJSON(w *app.Weeks, n int, cfg *config.Config) weeksJSON {
	out := weeksJSON{
		Peak: w.Peak, BeforePeak: w.BeforePeak, BeforeMean: w.BeforeMean, Mean: w.Mean(), Moved: w.Moved, ToldMoved: w.ToldMoved,
		Weeks: []weekJSON{}, Short: []shortfallJSON{}, AtRisk: append([]string{}, w.AtRisk...),
	}
	for _, l := range w.Load[:min(n, len(w.Load))] {
		row := weekJSON{Week: l.Week, Clocked: l.Clocked, Capacity: l.Capacity[level.Labor], Target: int(float64(l.Capacity[level.Labor])*cfg.Weeks.Target + 0.5), Booked: l.Booked[level.Labor], Pencilled: l.Pencilled[level.Labor], Visits: []string{}}
		taken := l.Booked.Plus(l.Pencilled)
		if len(cfg.Yard.CrewHours) > 0 {
			row.Yard = &takenJSON{l.Capacity[level.Yard], taken[level.Yard]}
		}
		if len(cfg.Yard.Lifts) > 0 {
			row.Lifts = &takenJSON{l.Capacity[level.Lifts], taken[level.Lifts]}
		}
		for _, v := range w.Visits[l.Week] {
			row.Visits = append(row.Visits, v.ID)
		}
		out.Weeks = append(out.Weeks, row)
	}
	for _, s := range w.Short {
		out.Short = append(out.Short, shortfallJSON{s.Week, s.Over[level.Labor], s.Over[level.Yard], s.Over[level.Lifts], append([]string{}, s.Jobs...)})
	}
	return out
}

// riskMost is how many visits at risk a line names; --json names all.
const riskMost = 40

// chartWidth is how many characters a full week takes.
const chartWidth = 40

func (a *cli) printWeeks(ctx context.Context, h *app.App, w *app.Weeks, n int) error {
	if len(h.Config.Weeks.Technicians) == 0 {
		a.printf("The settings name no technician, so no week has hours available: add [[weeks.technician]] blocks to them.\n\n")
	}
	a.printf("Busiest week %.0f%% full; if every visit came in its best week it would be %.0f%%.\n", 100*w.Peak, 100*w.BeforePeak)
	clocked := 0.0
	for _, t := range h.Config.Weeks.Technicians {
		for _, hours := range t.Hours {
			clocked += hours
		}
	}
	available := clocked * h.Config.Weeks.Allowance
	a.printf("An ordinary week has %.4g h clocked, %.4g h available for visits, and is filled to %.4g h.\n", clocked, available, available*h.Config.Weeks.Target)
	a.printf("# booked   = penciled in   . open   ! over\n\n")
	for _, l := range w.Load[:min(n, len(w.Load))] {
		a.printf("%s  %s  %s  %s of %s h, %s%s\n", l.Week, l.Week.Monday(), bar(l.Booked[level.Labor], l.Pencilled[level.Labor], l.Capacity[level.Labor]),
			inHours(l.Booked[level.Labor]+l.Pencilled[level.Labor]), inHours(l.Capacity[level.Labor]), words.Count(len(w.Visits[l.Week]), "visit"), yardWords(&h.Config.Yard, &l))
	}
	for _, s := range w.Short {
		names, err := visitNames(ctx, h, w.Of(s.Jobs), riskMost)
		if err != nil {
			return err
		}
		lacks := app.LateWeek{Short: s.Over[level.Labor], Yard: s.Over[level.Yard], Lifts: s.Over[level.Lifts]}
		a.printf("\nWeek %s is short by %s. Will miss their deadline: %s\n", s.Week, lacks.Lacks(a.format), cmp.Or(names, "booked work alone is too much"))
	}
	if len(w.AtRisk) > 0 {
		names, err := visitNames(ctx, h, w.Of(w.AtRisk), riskMost)
		if err != nil {
			return err
		}
		a.printf("\nLate, not enough hours, %s: %s\n", words.Count(len(w.AtRisk), "visit"), names)
	}
	if w.Lapsed > 0 {
		a.printf("\nNot counted: %s of lapsed boats, %s h; they take hours once booked.\n", words.Count(w.Lapsed, "visit"), inHours(w.LapsedMinutes))
	}
	return nil
}

// yardWords says what of the yard a week takes, as far as the settings limit it.
func yardWords(y *config.Yard, l *level.Load) string {
	taken, out := l.Booked.Plus(l.Pencilled), ""
	if len(y.CrewHours) > 0 {
		out += fmt.Sprintf(", yard %s of %s h", inHours(taken[level.Yard]), inHours(l.Capacity[level.Yard]))
	}
	if len(y.Lifts) > 0 {
		out += fmt.Sprintf(", %d of %s", taken[level.Lifts], words.Count(l.Capacity[level.Lifts], "lift"))
	}
	return out
}

// bar draws one week.
func bar(booked, pencilled, capacity int) string {
	if capacity <= 0 {
		return fmt.Sprintf("%-*s", chartWidth, "closed")
	}
	at := func(minutes int) int { return min(chartWidth, (minutes*chartWidth+capacity/2)/capacity) }
	b, full := at(booked), at(booked+pencilled)
	s := strings.Repeat("#", b) + strings.Repeat("=", full-b) + strings.Repeat(".", chartWidth-full)
	if booked+pencilled > capacity {
		s = s[:chartWidth-1] + "!"
	}
	return s
}

func inHours(minutes int) string { return schedule.Hours((minutes + 3) / 6).String() }

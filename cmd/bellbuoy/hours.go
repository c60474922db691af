package main

import (
	"errors"
	"time"

	"github.com/spf13/cobra"

	"bellbuoy/cmd/bellbuoy/internal/app"
	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/store"
)

func hoursCommand(a *cli) *cobra.Command {
	return &cobra.Command{
		Use:   "hours BOAT",
		Short: "What the engines' hour meters are expected to show",
		Long: `Prints what each engine's meter is expected to show, with its likely range: an
estimate from the readings on file. Boat ids are those of boats.csv; "bellbuoy due"
shows some.`,
		Example: `  bellbuoy hours B00012`,
		Args:    cobra.ExactArgs(1),
		RunE: a.withApp(func(c *cobra.Command, h *app.App, now time.Time, args []string) error {
			today := civil.FromTime(now)
			f, err := h.Facts(c.Context(), args[0])
			if errors.Is(err, store.ErrNotFound) {
				return noBoat(args[0])
			}
			if err != nil {
				return err
			}
			rows := h.Planner.HoursOutlook(&f, today)
			if a.asJSON {
				return a.printJSON(hoursJSON(rows))
			}
			a.printHours(&f.Boat, rows, today)
			return nil
		}),
	}
}

// outlookJSON is one engine of "hours --json"; hours are decimal meter hours.
type outlookJSON struct {
	Component string    `json:"component_id"`
	Label     string    `json:"label"`
	LastDay   civil.Day `json:"last_reading_day"`
	LastHours string    `json:"last_reading_hours"`
	Expected  string    `json:"expected_hours"`
	Low       string    `json:"low_hours"`
	High      string    `json:"high_hours"`
	PerSeason string    `json:"hours_per_season"`
	AskFor    bool      `json:"ask_for_reading"`
	Faults    []string  `json:"faults,omitempty"`
}

func hoursJSON(rows []schedule.Outlook) []outlookJSON {
	out := []outlookJSON{}
	for _, o := range rows {
		out = append(out, outlookJSON{
			Component: o.Component.ID, Label: o.Component.Label, LastDay: o.LastDay, LastHours: o.LastHours.String(),
			Expected: o.Expected.String(), Low: o.Low.String(), High: o.High.String(), PerSeason: o.PerSeason.String(),
			AskFor: o.AskFor, Faults: o.Faults,
		})
	}
	return out
}

func (a *cli) printHours(b *schedule.Boat, rows []schedule.Outlook, today civil.Day) {
	a.printf("%s (%s), estimates for %s\n", b.Title(), b.ID, a.format.Date(today))
	for _, o := range rows {
		a.printf("  %s (%s): about %s h, half of all cases between %s and %s h; about %s h a season\n",
			o.Component.Label, o.Component.ID, a.format.Hours(o.Expected), a.format.Hours(o.Low), a.format.Hours(o.High), a.format.Hours(o.PerSeason))
		if o.LastDay != 0 {
			a.printf("    last read %s: %s h\n", a.format.Date(o.LastDay), a.format.Hours(o.LastHours))
		} else {
			a.printf("    never read\n")
		}
		if o.AskFor {
			a.printf("    ask for a reading\n")
		}
		for _, f := range o.Faults {
			a.printf("    %s\n", f)
		}
	}
	if len(rows) == 0 {
		a.printf("  no engine with limits in hours\n")
	}
}

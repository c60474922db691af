package main

import (
	"time"

	"github.com/spf13/cobra"

	"bellbuoy/cmd/bellbuoy/internal/app"
	"bellbuoy/schedule/civil"
)

func exportCommand(a *cli) *cobra.Command {
	return &cobra.Command{
		Use:     "export DIR",
		Short:   "Write everything out: CSV files and calendars, for any program or a new shop",
		Example: `  bellbuoy export /media/usb/shop-2026-11-29`,
		Long: `Writes everything that the shop knows into a new folder:

  customers.csv ... readings.csv   the five import files
  whole/*.csv                      every table as it is; columns.csv explains them
  calendars/*.ics                  the desk's calendar, each boat's, each customer's
  export.json                      what belongs to it, with digests

"bellbuoy import DIR" makes the same shop of it where there is none yet, and
"bellbuoy restore DIR" puts it in the place of the present one. Passwords are not
in it; the key of the calendars' addresses is. Keep the folder like the shop's
keys: everybody's names and addresses are in it.`,
		Args: cobra.ExactArgs(1),
		RunE: a.withApp(func(c *cobra.Command, h *app.App, now time.Time, args []string) error {
			today := civil.FromTime(now)
			if err := h.Export(c.Context(), args[0], today); err != nil {
				return err
			}
			return a.done(map[string]string{"export": args[0]}, "Wrote everything to %s.", args[0])
		}),
	}
}

package main

import "github.com/spf13/cobra"

func exportCommand(a *app) *cobra.Command {
	return &cobra.Command{
		Use:   "export DIR",
		Short: "Write everything out: CSV files and calendars, for any program or a new shop",
		Long: `Writes everything that the shop knows into a new folder:

  customers.csv ... readings.csv   the five files of the intake
  whole/*.csv                      every table as it is; columns.csv explains them
  calendars/*.ics                  the desk's calendar, each boat's, each customer's
  export.json                      what belongs to it, with digests

"bellbuoy intake DIR" makes the same shop of it where there is none yet, and
"bellbuoy restore DIR" puts it in the place of the present one. Passwords are not
in it; the key of the calendars' addresses is. Keep the folder like the shop's
keys: everybody's names and addresses are in it.`,
		Args: cobra.ExactArgs(1),
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
			if err := h.Export(c.Context(), args[0], today); err != nil {
				return err
			}
			a.printf("Wrote everything to %s.\n", args[0])
			return nil
		},
	}
}

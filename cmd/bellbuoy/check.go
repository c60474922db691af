package main

import (
	"strings"
	"time"

	"github.com/spf13/cobra"

	"bellbuoy/cmd/bellbuoy/internal/app"
	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/words"
)

func checkCommand(a *cli) *cobra.Command {
	return &cobra.Command{
		Use:   "check",
		Short: "Check the shop: database, places, settings, plan, emails and backups",
		Long: `Checks the database, the settings, the rules, the plan, the emails and the backups,
and lists what is wrong. Exit code 1 if there are findings.`,
		Example: `  bellbuoy check
  bellbuoy check --json`,
		Args: cobra.NoArgs,
		RunE: a.inHouse(func(c *cobra.Command, h *app.App, now time.Time, _ []string) error {
			today := civil.FromTime(now)
			findings, err := h.Check(c.Context(), today)
			if err != nil {
				return err
			}
			if a.asJSON {
				if err := a.printJSON(append([]string{}, findings...)); err != nil {
					return err
				}
			} else {
				for _, f := range findings {
					a.printf("%s\n", f)
				}
				v := thisProgram()
				a.printf("%s, by bellbuoy %s\n", words.Count(len(findings), "finding"), strings.TrimSpace(v.Version+" "+v.Revision))
			}
			if len(findings) > 0 {
				return errFindings
			}
			return nil
		}),
	}
}

package main

import "github.com/spf13/cobra"

func checkCommand(a *app) *cobra.Command {
	return &cobra.Command{
		Use:   "check",
		Short: "Look the shop over: database, places, plan against a fresh plan, outbox",
		Args:  cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error {
			h, err := a.house(c.Context())
			if err != nil {
				return err
			}
			defer h.Close()
			today, err := a.today(h.Config)
			if err != nil {
				return err
			}
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
				a.printf("%s\n", count(len(findings), "finding"))
			}
			if len(findings) > 0 {
				return errFindings
			}
			return nil
		},
	}
}

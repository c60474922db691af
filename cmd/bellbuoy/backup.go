package main

import "github.com/spf13/cobra"

func backupCommand(a *app) *cobra.Command {
	return &cobra.Command{
		Use:   "backup FILE",
		Short: "Write a checked copy of the database while everything goes on",
		Args:  cobra.ExactArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			h, err := a.house(c.Context())
			if err != nil {
				return err
			}
			defer h.Close()
			if err := h.DB.Backup(c.Context(), args[0]); err != nil {
				return err
			}
			a.printf("Wrote %s and checked it.\n", args[0])
			return nil
		},
	}
}

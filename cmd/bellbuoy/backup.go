package main

import (
	"time"

	"github.com/spf13/cobra"

	"bellbuoy/cmd/bellbuoy/internal/app"
	"bellbuoy/store/archive"
)

func backupCommand(a *cli) *cobra.Command {
	return &cobra.Command{
		Use:     "backup FILE",
		Short:   "Write a checked copy of the database while everything goes on",
		Example: `  bellbuoy backup /media/usb/bellbuoy-2026-11-29.db`,
		Args:    cobra.ExactArgs(1),
		RunE: a.inHouse(func(c *cobra.Command, h *app.App, _ time.Time, args []string) error {
			if err := archive.Backup(c.Context(), h.DB, args[0]); err != nil {
				return err
			}
			return a.done(map[string]string{"backup": args[0]}, "Wrote %s and checked it.", args[0])
		}),
	}
}

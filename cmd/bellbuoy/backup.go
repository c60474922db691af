package main

import (
	"time"

	"github.com/spf13/cobra"

	"bellbuoy/cmd/bellbuoy/internal/app"
)

func backupCommand(a *cli) *cobra.Command {
	return &cobra.Command{
		Use:     "backup FILE",
		Short:   "Write a checked copy of the database while everything goes on",
		Example: `  bellbuoy backup /media/usb/bellbuoy-2026-11-29.db`,
		Long: `Writes a copy of the database, checked, while the daemon goes on. The settings that
pages changed (settings.toml beside the database) are in it; the file that --config
names, and the files that it names, are not.`,
		Args: cobra.ExactArgs(1),
		RunE: a.withApp(func(c *cobra.Command, h *app.App, _ time.Time, args []string) error {
			if err := h.BackUp(c.Context(), args[0]); err != nil {
				return err
			}
			return a.done(map[string]string{"backup": args[0]}, "Wrote %s and checked it.", args[0])
		}),
	}
}

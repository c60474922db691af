package main

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"

	"github.com/spf13/cobra"

	"bellbuoy/cmd/bellbuoy/internal/app"
	"bellbuoy/cmd/bellbuoy/internal/config"
)

func initCommand(a *cli) *cobra.Command {
	return &cobra.Command{
		Use:   "init [DIR]",
		Short: "Make a settings file with every setting explained, and an empty database",
		Example: `  bellbuoy init
  bellbuoy init /etc/bellbuoy`,
		Args: cobra.MaximumNArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			path := a.configPath
			if len(args) == 1 {
				path = filepath.Join(args[0], filepath.Base(path))
			}
			if err := writeNew(path, config.Initial()); err != nil {
				return err
			}
			cfg, err := config.Load(path)
			if err != nil {
				return err
			}
			h, err := app.Open(c.Context(), cfg)
			if err != nil {
				return err
			}
			defer h.Close()
			return a.done(map[string]string{"settings": path, "database": h.DB.Path()},
				"Wrote %s and %s.\nOf 40 hours that a technician is paid for, %.4g are available for visits, and the plan fills a week up to %.4g of them (allowance and target in the settings).\nNext: put your shop, places and technicians into the settings (a line without its \"# \" is fixed there; the owner changes the others on the page Settings), then \"bellbuoy import DIR\".",
				path, h.DB.Path(), 40*cfg.Weeks.Allowance, 40*cfg.Weeks.Allowance*cfg.Weeks.Target)
		},
	}
}

// writeNew writes a file that must not exist yet: nobody's settings are lost.
func writeNew(path string, data []byte) error {
	if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
		return fmt.Errorf("make folder: %w", err)
	}
	f, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if errors.Is(err, fs.ErrExist) {
		return hinted{fmt.Errorf("settings %q exist already", path), "nothing was changed; remove the file first if you want a fresh one"}
	}
	if err != nil {
		return fmt.Errorf("write settings: %w", err)
	}
	if _, err := f.Write(data); err != nil {
		f.Close()
		return fmt.Errorf("write settings: %w", err)
	}
	return f.Close()
}

package main

import (
	"context"
	"errors"
	"fmt"

	"github.com/spf13/cobra"

	"bellbuoy/cmd/bellbuoy/internal/app"
	"bellbuoy/cmd/bellbuoy/internal/config"
	"bellbuoy/notify/lease"
	"bellbuoy/store"
	"bellbuoy/store/archive"
)

func restoreCommand(a *cli) *cobra.Command {
	var takeOver bool
	c := &cobra.Command{
		Use:   "restore FILE|DIR",
		Short: "Put a backup, or an export, in the place of the shop's database",
		Example: `  bellbuoy restore backups/bellbuoy-2026-11-28.db
  bellbuoy restore --take-over replica.db`,
		Long: `Puts a copy of a backup file, or the shop that an export holds, in the place of
the database that the settings name. Stop the daemon first. The replaced file is
kept beside it. The settings that pages had changed are written beside it too, if no
settings.toml is there; one that is there stays. Sending is on hold afterward, because emails may have gone out
since the backup was made: check them with "bellbuoy mail status", then
"bellbuoy mail release".

With --take-over the file is a replica that followed the shop on another machine to
within seconds, and this machine takes over from it. The settings must name a lease,
which keeps the other one from sending; so nothing is on hold. Reminders that were
waiting are uncertain and are not sent again; confirmations that were waiting are, with
the same Message-ID.`,
		Args: cobra.ExactArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			cfg, err := a.config()
			if err != nil {
				return err
			}
			if takeOver && cfg.Lease.Object == "" {
				return hinted{fmt.Errorf("restore --take-over: the settings name no lease, so nothing would keep the other machine from sending"), "see [lease] in the settings; without --take-over sending is on hold afterward"}
			}
			return a.restore(c.Context(), args[0], takeOver, cfg)
		},
	}
	c.Flags().BoolVar(&takeOver, "take-over", false, "take over from another machine whose replica the file is")
	return c
}

// noBackup says what a backup is, if what was named is none. The advice for a
// damaged shop would be wrong here: the shop was not touched.
func noBackup(file string, err error) error {
	if !store.IsDamaged(err) {
		return err
	}
	return hinted{err, fmt.Sprintf("%s is damaged or no database; name another copy, or a folder that \"bellbuoy export\" wrote; the shop is as it was", file)}
}

// restore puts a backup's shop, a replica's or an export's in the database's place and
// says so.
func (a *cli) restore(ctx context.Context, from string, takeOver bool, cfg *config.Config) error {
	now, err := a.instant(cfg)
	if err != nil {
		return err
	}
	r, err := app.Restore(ctx, now, "command line", from, takeOver, cfg)
	switch {
	case errors.Is(err, app.ErrFolder):
		return usagef("restore --take-over: %s is a folder; name the replica's database", from)
	case errors.Is(err, store.ErrInUse):
		return hinted{err, "stop the daemon (\"systemctl stop bellbuoy\", or Ctrl-C where it runs) and try again; nothing was changed"}
	case err != nil && !r.Export:
		return noBackup(from, err)
	case err != nil:
		return err
	case a.asJSON:
		return a.printJSON(map[string]string{"restored": from, "aside": r.Aside})
	}
	a.printf("The shop is that of %s now.\n", from)
	if r.Aside != "" {
		a.printf("The file that it replaced is kept as %s.\n", r.Aside)
	}
	if r.Pages {
		a.printf("The settings that pages had changed are in %s again.\n", cfg.PagesFile())
	}
	if takeOver {
		a.printf("Emails go out once this machine has had the lease for %d seconds.\n", int(lease.Wait.Seconds()))
		return nil
	}
	a.printf("Sending is on hold: \"bellbuoy mail status\", then \"bellbuoy mail release\".\n")
	if r.Export {
		a.printf("Passwords are not in an export: give each member of staff a new one with \"bellbuoy staff\".\n")
	}
	return nil
}

// intakeExport takes in an export where there is no shop yet.
func (a *cli) intakeExport(ctx context.Context, folder string, dry bool) error {
	cfg, err := a.config()
	if err != nil {
		return err
	}
	path := cfg.Path(cfg.Files.Database)
	switch empty, err := app.NoShopYet(ctx, path); {
	case err != nil:
		return err
	case !empty:
		return hinted{
			fmt.Errorf("import: %q is a whole export, and the shop has customers or boats already", folder),
			fmt.Sprintf("\"bellbuoy restore %s\" puts it in the shop's place; to add its boats to this shop, import the five files by name", folder),
		}
	case dry:
		if err := archive.CheckExport(folder); err != nil {
			return err
		}
		a.printf("The export is whole. A dry run: nothing was changed.\n")
		return nil
	}
	return a.restore(ctx, folder, false, cfg)
}

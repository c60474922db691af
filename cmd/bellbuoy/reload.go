package main

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"strings"
	"time"

	"github.com/google/uuid"
	"github.com/spf13/cobra"

	"bellbuoy/cmd/bellbuoy/internal/app"
	"bellbuoy/store"
)

// reloadPatience is how long a daemon may take to answer: several of its looks.
const reloadPatience = 5 * askedEvery

func reloadCommand(a *cli) *cobra.Command {
	return &cobra.Command{
		Use:     "reload",
		Short:   "Have the running daemon read the settings again",
		Example: `  bellbuoy reload`,
		Long: `Asks the daemon that runs on this shop to read its settings again, waits for what
comes of it and prints that. Settings with a fault are not taken, and the daemon
goes on with the old ones. Works on every system; SIGHUP does the same.`,
		Args: cobra.NoArgs,
		RunE: a.withApp(func(c *cobra.Command, h *app.App, _ time.Time, _ []string) error {
			outcome, err := askReload(c.Context(), h, reloadPatience)
			if err != nil {
				return err
			}
			if outcome != "" {
				return fmt.Errorf("the settings were not taken, the old ones stay: %s", outcome)
			}
			return a.done(map[string]bool{"reloaded": true}, "The daemon has read the settings again.")
		}),
	}
}

// askReload asks, and waits for the answer: what was wrong, "" if nothing was.
func askReload(ctx context.Context, h *app.App, patience time.Duration) (string, error) {
	asking, file := uuid.NewString(), reloadFile(h.Config)
	// The daemon may be another user than who asks, whatever that one's umask is; it takes no
	// empty file, so it has not removed this one before the name stands in it.
	if err := errors.Join(os.WriteFile(file, nil, 0o644), os.Chmod(file, 0o644), os.WriteFile(file, []byte(asking), 0o644)); err != nil {
		return "", err
	}
	ctx, cancel := context.WithTimeout(ctx, patience)
	defer cancel()
	look := time.NewTicker(100 * time.Millisecond)
	defer look.Stop()
	for {
		answer, err := h.DB.Setting(ctx, reloadAnswered)
		if err != nil && !errors.Is(err, store.ErrNotFound) && ctx.Err() == nil {
			return "", err
		}
		if outcome, ours := strings.CutPrefix(string(answer), asking+"\n"); ours {
			return outcome, nil
		}
		select {
		case <-ctx.Done():
			if err := os.Remove(file); err != nil && !errors.Is(err, fs.ErrNotExist) { // nobody heard it, and nobody shall later
				return "", err
			}
			return "", hinted{fmt.Errorf("no daemon answered within %s", patience), "does \"bellbuoy serve\" run with these settings?"}
		case <-look.C:
		}
	}
}

package main

import (
	"time"

	"github.com/spf13/cobra"

	"bellbuoy/cmd/bellbuoy/internal/app"
)

// keyJSON is one key of the links, without the key itself.
type keyJSON struct {
	Since string `json:"since"` // when it was made, "" for the one that the shop began with
	Until string `json:"until"` // when links made with it stop working, "" for the one in use
}

type keysJSON struct {
	Renewed bool      `json:"renewed"` // a new key was made just now
	Keys    []keyJSON `json:"keys"`    // the one in use first
}

func keyCommand(a *cli) *cobra.Command {
	var renew, atOnce bool
	c := &cobra.Command{
		Use:   "key",
		Short: "The key of the links, or with --renew a new one",
		Example: `  bellbuoy key
  bellbuoy key --renew
  bellbuoy key --renew --at-once`,
		Long: `The addresses of calendars, of customers' pages and of stop links, and the return
addresses of emails, are made with a key that the shop's file holds. Whoever has
the file, a backup or an export can make them. --renew makes a new key: emails and
calendars carry new links from then on, and the old links go on working for 90
days, so that customers have the new ones by then. A running daemon takes the new
key over at its next tick.

--at-once is for a stolen backup: old links stop working at once. Customers then
need new ones, and calendars that subscribed to the old address end; emails that
wait still carry the old links.`,
		Args: cobra.NoArgs,
		RunE: a.withApp(func(c *cobra.Command, h *app.App, now time.Time, _ []string) error {
			if atOnce && !renew {
				return usagef("--at-once goes with --renew")
			}
			if renew {
				if err := a.worksHere(c.Context(), h); err != nil {
					return err
				}
				if err := h.RenewKey(c.Context(), now, actor, atOnce); err != nil {
					return err
				}
			}
			all, err := h.LinkKeys(c.Context())
			if err != nil {
				return err
			}
			return a.printKeys(all, renew, now)
		}),
	}
	c.Flags().BoolVar(&renew, "renew", false, "make a new key")
	c.Flags().BoolVar(&atOnce, "at-once", false, "old links stop working at once, not in 90 days")
	return c
}

func (a *cli) printKeys(all []app.LinkKey, renewed bool, now time.Time) error {
	day := func(t time.Time) string { return t.In(now.Location()).Format("2006-01-02") }
	keys := make([]keyJSON, len(all))
	for i, k := range all {
		if !k.Since.IsZero() {
			keys[i].Since = day(k.Since)
		}
		if i > 0 {
			keys[i].Until = day(app.KeyEnds(&all[i-1]))
		}
	}
	if a.asJSON {
		return a.printJSON(keysJSON{renewed, keys})
	}
	for i, k := range keys {
		since := k.Since
		if since == "" {
			since = "the first day"
		}
		switch {
		case i == 0 && renewed:
			a.printf("New links are made with a new key.\n")
		case i == 0:
			a.printf("Links are made with the key of %s.\n", since)
		default:
			a.printf("Links made with the key of %s work until %s.\n", since, k.Until)
		}
	}
	return nil
}

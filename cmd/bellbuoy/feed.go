package main

import (
	"errors"
	"fmt"
	"time"

	"github.com/spf13/cobra"

	"bellbuoy/cmd/bellbuoy/internal/app"
	"bellbuoy/notify/link"
	"bellbuoy/schedule/civil"
	"bellbuoy/store"
)

func feedCommand(a *cli) *cobra.Command {
	var body, revoke bool
	c := &cobra.Command{
		Use:   "feed BOAT|CUSTOMER|desk",
		Short: "The address of a calendar feed, or with --show the feed itself",
		Example: `  bellbuoy feed B00012
  bellbuoy feed desk --show
  bellbuoy feed C00017 --revoke`,
		Long: `Prints the address that a calendar program subscribes to: of one boat, of all
boats of a customer, or of the desk (every visit). --revoke makes the present
address stop working and prints the next one.`,
		Args: cobra.ExactArgs(1),
		RunE: a.withApp(func(c *cobra.Command, h *app.App, now time.Time, args []string) error {
			today := civil.FromTime(now)
			scope, subject := link.ScopeDesk, ""
			if args[0] != "desk" {
				subject, scope = args[0], link.ScopeBoat
				if _, err := h.DB.Boat(c.Context(), subject); errors.Is(err, store.ErrNotFound) {
					scope = link.ScopeCustomer
				} else if err != nil {
					return err
				}
			}
			if revoke {
				if err := a.worksHere(c.Context(), h); err != nil {
					return err
				}
				if err := h.RevokeFeed(c.Context(), now, actor, scope, subject); err != nil {
					return err
				}
			}
			url, err := h.FeedURL(c.Context(), scope, subject)
			if errors.Is(err, store.ErrNotFound) {
				return hinted{fmt.Errorf("feed %q: no boat and no customer of that id", args[0]), "use an id of boats.csv or customers.csv, or the word desk"}
			}
			if err != nil {
				return err
			}
			if !body {
				if a.asJSON {
					return a.printJSON(map[string]string{"scope": string(scope), "id": subject, "url": url})
				}
				a.printf("%s\n", url)
				return nil
			}
			f, err := h.Feed(c.Context(), scope, subject, today)
			if err != nil {
				return err
			}
			_, err = a.out.Write(f.Body)
			return err
		}),
	}
	c.Flags().BoolVar(&body, "show", false, "print the calendar instead of its address")
	c.Flags().BoolVar(&revoke, "revoke", false, "make the present address stop working")
	return c
}

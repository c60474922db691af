package main

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"bellbuoy/cmd/bellbuoy/internal/app"
	"bellbuoy/schedule/words"
	"bellbuoy/store"
	"bellbuoy/store/duplicates"
)

func twinsCommand(a *cli) *cobra.Command {
	c := &cobra.Command{
		Use:   "twins",
		Short: "Show customers and boats that were probably written down twice",
		Long: `Shows customers with the same mail address, telephone number or name, and boats
with the same hull number (look-alike letters and digits counted as the same)
or registration. Nothing is merged until it is told:

  bellbuoy twins merge KEEP GONE    everything of GONE becomes KEEP's
  bellbuoy twins unmerge GONE       takes that back
  bellbuoy twins merged             lists the merges that hold
  bellbuoy twins apart A B          they are two: never show them again`,
		Args: cobra.NoArgs,
		RunE: a.inHouse(func(c *cobra.Command, h *app.App, _ time.Time, _ []string) error {
			return a.showTwins(c.Context(), h)
		}),
	}
	var boats bool
	merge := &cobra.Command{
		Use: "merge KEEP GONE", Short: "Make two customers, or two boats, one", Args: cobra.ExactArgs(2),
		RunE: a.inHouse(func(c *cobra.Command, h *app.App, now time.Time, args []string) error {
			return a.mergeTwins(c.Context(), h, now, args[0], args[1], boats)
		}),
	}
	unmerge := &cobra.Command{
		Use: "unmerge GONE", Short: "Take a merge back", Args: cobra.ExactArgs(1),
		RunE: a.inHouse(func(c *cobra.Command, h *app.App, now time.Time, args []string) error {
			return a.unmergeTwins(c.Context(), h, now, args[0], boats)
		}),
	}
	apart := &cobra.Command{
		Use: "apart A B", Short: "Say that two customers, or two boats, are two", Args: cobra.ExactArgs(2),
		RunE: a.inHouse(func(c *cobra.Command, h *app.App, now time.Time, args []string) error {
			return a.tellApart(c.Context(), h, now, args[0], args[1], boats)
		}),
	}
	for _, sub := range []*cobra.Command{merge, unmerge, apart} {
		sub.Flags().BoolVar(&boats, "boats", false, "the ids are boats' where customers have the same")
	}
	merged := &cobra.Command{
		Use: "merged", Short: "List the merges that hold", Args: cobra.NoArgs,
		RunE: a.inHouse(func(c *cobra.Command, h *app.App, _ time.Time, _ []string) error {
			return a.showMerged(c.Context(), h)
		}),
	}
	c.AddCommand(merge, unmerge, merged, apart)
	return c
}

func (a *cli) showTwins(ctx context.Context, h *app.App) error {
	all, err := duplicates.Find(ctx, h.DB)
	if err != nil {
		return err
	}
	if a.asJSON {
		return a.printJSON(all)
	}
	for _, t := range all {
		a.printf("%-8s  %s (%s)  and  %s (%s): %s\n", t.Kind, t.Is, t.A, t.Also, t.B, strings.Join(t.Why, ", "))
	}
	if len(all) == 0 {
		a.printf("Nobody and nothing looks written down twice.\n")
		return nil
	}
	a.printf("%s. If two are one: bellbuoy twins merge KEEP GONE\n", words.Count(len(all), "pair"))
	return nil
}

func (a *cli) showMerged(ctx context.Context, h *app.App) error {
	all, err := duplicates.Merges(ctx, h.DB)
	if err != nil {
		return err
	}
	if a.asJSON {
		return a.printJSON(all)
	}
	for _, m := range all {
		a.printf("%s  %-8s  %s is now %s, by %s\n", m.At.In(h.Config.Zone()).Format("2006-01-02"), m.Kind, m.Gone, m.Kept, m.Actor)
	}
	if len(all) == 0 {
		a.printf("Nothing is merged.\n")
	}
	return nil
}

// kindOfID says whether an id is a customer's or a boat's.
func kindOfID(ctx context.Context, h *app.App, id string, boats bool) (string, error) {
	_, err := h.DB.Customer(ctx, id)
	if err == nil && !boats {
		return duplicates.KindCustomer, nil
	}
	if err != nil && !errors.Is(err, store.ErrNotFound) {
		return "", err
	}
	if _, err := h.DB.Boat(ctx, id); err != nil {
		if errors.Is(err, store.ErrNotFound) {
			return "", hinted{fmt.Errorf("twins: %q is neither a customer nor a boat", id), "\"bellbuoy twins\" and \"bellbuoy twins merged\" show ids"}
		}
		return "", err
	}
	return duplicates.KindBoat, nil
}

func (a *cli) mergeTwins(ctx context.Context, h *app.App, now time.Time, kept, gone string, boats bool) error {
	kind, err := kindOfID(ctx, h, kept, boats)
	if err != nil {
		return err
	}
	did, err := h.Merge(ctx, now, actor, kind, kept, gone)
	if err != nil {
		return err
	}
	words := fmt.Sprintf("%s %s is now %s. To take it back: bellbuoy twins unmerge %s", kind, gone, kept, gone)
	if kind == duplicates.KindCustomer {
		words += fmt.Sprintf("\nThe pages and calendars that %s subscribed to are empty now; %s's own show everything.", gone, kept)
	}
	if err := a.done(map[string]string{"kind": kind, "kept": kept, "gone": gone}, "%s", words); err != nil {
		return err
	}
	a.printPlanned(&did)
	return nil
}

func (a *cli) tellApart(ctx context.Context, h *app.App, now time.Time, one, other string, boats bool) error {
	kind, err := kindOfID(ctx, h, one, boats)
	if err != nil {
		return err
	}
	if err := h.TellApart(ctx, now, actor, kind, one, other, false); err != nil {
		return err
	}
	return a.done(map[string]string{"kind": kind, "a": one, "b": other}, "%ss %s and %s are two and are not asked about again.", kind, one, other)
}

func (a *cli) unmergeTwins(ctx context.Context, h *app.App, now time.Time, gone string, boats bool) error {
	kind, err := kindOfID(ctx, h, gone, boats)
	if err != nil {
		return err
	}
	did, err := h.Unmerge(ctx, now, actor, kind, gone)
	if err != nil {
		return err
	}
	if err := a.done(map[string]string{"kind": kind, "again": gone}, "%s %s stands by itself again.", kind, gone); err != nil {
		return err
	}
	a.printPlanned(&did)
	return nil
}

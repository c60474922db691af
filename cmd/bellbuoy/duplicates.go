package main

import (
	"context"
	"errors"
	"fmt"
	"strconv"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"bellbuoy/cmd/bellbuoy/internal/app"
	"bellbuoy/schedule/words"
	"bellbuoy/store"
	"bellbuoy/store/duplicates"
)

const duplicatesHelp = `Shows customers with the same email address, phone number or name, and boats
with the same hull number (look-alike letters and digits counted as the same)
or registration. Nothing is merged until you say so:

  bellbuoy duplicates merge KEEP OTHER    everything of OTHER becomes KEEP's
  bellbuoy duplicates unmerge OTHER       undoes that
  bellbuoy duplicates merged              lists the merges
  bellbuoy duplicates reject A B          not duplicates: never show them again

Merging two customers also merges their boats of the same make and name. Pairs
that agree (customers of one name with the same email address, phone number or
street; boats of one owner with the same number) can be merged in one step:

  bellbuoy duplicates merge-agreeing      merges them all and prints the step
  bellbuoy duplicates unmerge-step STEP   undoes that step`

func duplicatesCommand(a *cli) *cobra.Command {
	c := &cobra.Command{
		Use:        "duplicates",
		SuggestFor: []string{"twins"},
		Short:      "Show possible duplicates: customers and boats that were entered twice",
		Example: `  bellbuoy duplicates
  bellbuoy duplicates merge C00017 C00203`,
		Long: duplicatesHelp,
		Args: cobra.NoArgs,
		RunE: a.withApp(func(c *cobra.Command, h *app.App, _ time.Time, _ []string) error {
			return a.showDuplicates(c.Context(), h)
		}),
	}
	var boats bool
	merge := &cobra.Command{
		Use: "merge KEEP OTHER", Short: "Make two customers, or two boats, one", Args: cobra.ExactArgs(2),
		RunE: a.withChange(func(c *cobra.Command, h *app.App, now time.Time, args []string) error {
			return a.mergeDuplicates(c.Context(), h, now, args[0], args[1], boats)
		}),
	}
	unmerge := &cobra.Command{
		Use: "unmerge OTHER", Short: "Undo a merge", Args: cobra.ExactArgs(1),
		RunE: a.withChange(func(c *cobra.Command, h *app.App, now time.Time, args []string) error {
			return a.unmergeDuplicates(c.Context(), h, now, args[0], boats)
		}),
	}
	apart := &cobra.Command{
		Use: "reject A B", Short: "Say that two customers, or two boats, are not duplicates", Args: cobra.ExactArgs(2),
		RunE: a.withChange(func(c *cobra.Command, h *app.App, now time.Time, args []string) error {
			return a.tellApart(c.Context(), h, now, args[0], args[1], boats)
		}),
	}
	for _, sub := range []*cobra.Command{merge, unmerge, apart} {
		sub.Flags().BoolVar(&boats, "boats", false, "the ids are boats' where customers have the same")
	}
	merged := &cobra.Command{
		Use: "merged", Short: "List the merges", Args: cobra.NoArgs,
		RunE: a.withApp(func(c *cobra.Command, h *app.App, _ time.Time, _ []string) error {
			return a.showMerged(c.Context(), h)
		}),
	}
	agreeing := &cobra.Command{
		Use: "merge-agreeing", Short: "Merge all pairs that agree, in one step", Args: cobra.NoArgs,
		RunE: a.withChange(func(c *cobra.Command, h *app.App, now time.Time, _ []string) error {
			return a.mergeAgreeing(c.Context(), h, now)
		}),
	}
	step := &cobra.Command{
		Use: "unmerge-step STEP", Short: "Undo what was merged in one step", Args: cobra.ExactArgs(1),
		RunE: a.withChange(func(c *cobra.Command, h *app.App, now time.Time, args []string) error {
			return a.unmergeStep(c.Context(), h, now, args[0])
		}),
	}
	c.AddCommand(merge, unmerge, merged, apart, agreeing, step)
	return c
}

func (a *cli) showDuplicates(ctx context.Context, h *app.App) error {
	all, err := duplicates.Find(ctx, h.DB)
	if err != nil {
		return err
	}
	if a.asJSON {
		return a.printJSON(all)
	}
	for _, t := range all {
		agree := ""
		if t.Agree {
			agree = " (agree)"
		}
		a.printf("%-8s  %s (%s)  and  %s (%s): %s%s\n", t.Kind, t.Is, t.A, t.Also, t.B, strings.Join(t.Why, ", "), agree)
	}
	if len(all) == 0 {
		a.printf("No possible duplicates.\n")
		return nil
	}
	a.printf("%s. To merge two: bellbuoy duplicates merge KEEP OTHER\n", words.Count(len(all), "pair"))
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
		step := ""
		if m.Step != 0 {
			step = fmt.Sprintf(", step %d", m.Step)
		}
		a.printf("%s  %-8s  %s is now %s, by %s%s\n", m.At.In(h.Config.Zone()).Format("2006-01-02"), m.Kind, m.Gone, m.Kept, m.Actor, step)
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
			return "", hinted{fmt.Errorf("duplicates: %q is neither a customer nor a boat", id), "\"bellbuoy duplicates\" and \"bellbuoy duplicates merged\" show ids"}
		}
		return "", err
	}
	return duplicates.KindBoat, nil
}

func (a *cli) mergeDuplicates(ctx context.Context, h *app.App, now time.Time, kept, gone string, boats bool) error {
	kind, err := kindOfID(ctx, h, kept, boats)
	if err != nil {
		return err
	}
	did, err := h.Merge(ctx, now, actor, kind, kept, gone)
	if err != nil {
		return err
	}
	words := fmt.Sprintf("%s %s is now %s. To undo: bellbuoy duplicates unmerge %s", kind, gone, kept, gone)
	if kind == duplicates.KindCustomer {
		words += fmt.Sprintf("\nThe page and calendars of %s are empty now; those of %s show everything.", gone, kept)
	}
	if err := a.done(map[string]string{"kind": kind, "into": kept, "merged": gone}, "%s", words); err != nil {
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
	return a.done(map[string]string{"kind": kind, "a": one, "b": other}, "%ss %s and %s are not duplicates and are not shown again.", kind, one, other)
}

func (a *cli) unmergeDuplicates(ctx context.Context, h *app.App, now time.Time, gone string, boats bool) error {
	kind, err := kindOfID(ctx, h, gone, boats)
	if err != nil {
		return err
	}
	did, err := h.Unmerge(ctx, now, actor, kind, gone)
	if err != nil {
		return err
	}
	if err := a.done(map[string]string{"kind": kind, "separate": gone}, "%s %s is separate again.", kind, gone); err != nil {
		return err
	}
	a.printPlanned(&did)
	return nil
}

// mergedTogether is what merge-agreeing did, for --json.
type mergedTogether struct {
	Step   int64               `json:"step"`
	Merged []duplicates.Merged `json:"merged"`
}

func (a *cli) mergeAgreeing(ctx context.Context, h *app.App, now time.Time) error {
	done, step, did, err := h.MergeAgreeing(ctx, now, actor)
	if err != nil {
		return err
	}
	if a.asJSON {
		return a.printJSON(mergedTogether{step, done})
	}
	for _, m := range done {
		a.printf("%-8s  %s is now %s\n", m.Kind, m.Gone, m.Kept)
	}
	if len(done) == 0 {
		a.printf("No pairs agree.\n")
		return nil
	}
	a.printf("%s merged. To undo: bellbuoy duplicates unmerge-step %d\n", words.Count(len(done), "pair"), step)
	a.printPlanned(&did)
	return nil
}

func (a *cli) unmergeStep(ctx context.Context, h *app.App, now time.Time, arg string) error {
	step, err := strconv.ParseInt(arg, 10, 64)
	if err != nil {
		return usagef("%q is no step; \"bellbuoy duplicates merged\" shows them", arg)
	}
	n, did, err := h.UnmergeStep(ctx, now, actor, step)
	if err != nil {
		return err
	}
	if err := a.done(map[string]int{"separate": n}, "%s undone.", words.Count(n, "merge")); err != nil {
		return err
	}
	a.printPlanned(&did)
	return nil
}

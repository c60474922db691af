package main

import (
	"context"
	"fmt"
	"strings"
	"text/tabwriter"
	"time"

	"github.com/spf13/cobra"

	"bellbuoy/cmd/bellbuoy/internal/app"
	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/words"
)

func partsCommand(a *cli) *cobra.Command {
	var n int
	c := &cobra.Command{
		Use:   "parts",
		Short: "Parts needed for the visits of the coming weeks",
		Long: `Lists the parts that the booked and penciled-in visits use by the catalog. Fit and
quantity are estimates: the engine maker's parts list for the serial number comes first.`,
		Example: `  bellbuoy parts --weeks 8`,
		Args:    cobra.NoArgs,
		RunE: a.withPlan(func(c *cobra.Command, h *app.App, now time.Time, _ []string) error {
			if n < 1 || n > 78 {
				return usagef("--weeks %d: want 1 to 78", n)
			}
			parts, err := h.Parts(c.Context(), civil.FromTime(now), n)
			if err != nil {
				return err
			}
			if a.asJSON {
				return a.printJSON(partsAsJSON(parts))
			}
			return a.printParts(c.Context(), h, parts, n)
		}),
	}
	c.Flags().IntVar(&n, "weeks", 8, "how many `weeks` ahead")
	return c
}

// partJSON is one part of "parts --json".
type partJSON struct {
	Code     string   `json:"code"`
	Name     string   `json:"name"`
	Quantity float64  `json:"quantity"`
	Unit     string   `json:"unit"`
	Visits   []string `json:"visits"`
	// Cost is in cents, what the quantity costs the shop; null without a buying
	// price in the shop's rules.
	Cost *schedule.Cents `json:"cost"`
}

func partsAsJSON(parts []app.PartNeed) []partJSON {
	out := []partJSON{}
	for _, p := range parts {
		j := partJSON{Code: p.Part.Code, Name: p.Part.Name, Quantity: p.Part.Quantity, Unit: p.Part.Unit, Visits: visitIDs(p.Visits)}
		if p.Priced {
			j.Cost = &p.Cost
		}
		out = append(out, j)
	}
	return out
}

func visitIDs(visits []schedule.Visit) []string {
	ids := make([]string, len(visits))
	for i, v := range visits {
		ids[i] = v.ID
	}
	return ids
}

// partVisitsMost is how many visits a part's line names; --json names all.
const partVisitsMost = 6

func (a *cli) printParts(ctx context.Context, h *app.App, parts []app.PartNeed, n int) error {
	a.printf("Parts for the visits of the next %d weeks\n", n)
	w := tabwriter.NewWriter(a.out, 0, 4, 2, ' ', 0)
	for _, p := range parts {
		cost := ""
		if p.Priced {
			cost = a.format.Money(p.Cost)
		}
		names, err := visitNames(ctx, h, p.Visits, partVisitsMost)
		if err != nil {
			return err
		}
		fmt.Fprintf(w, "%s\t%s\t%s\t%s\tfor %s: %s\n", a.format.Quantity(p.Part.Quantity, p.Part.Unit), p.Part.Code, p.Part.Name, cost, words.Count(len(p.Visits), "visit"), names)
	}
	if len(parts) == 0 {
		a.printf("none\n")
	}
	if err := w.Flush(); err != nil {
		return err
	}
	a.printf("\nFit and quantity are an estimate; the engine maker's parts list for the serial number comes first.\n")
	return nil
}

// visitNames words a list of visits: the boats, what is done, and the ids that
// the other commands take. What is above most is only counted.
func visitNames(ctx context.Context, h *app.App, visits []schedule.Visit, most int) (string, error) {
	named, err := h.Named(ctx, visits[:min(len(visits), most)])
	if err != nil {
		return "", err
	}
	var words []string
	for _, v := range named {
		words = append(words, fmt.Sprintf("%s (%s)", v, v.ID))
	}
	if more := len(visits) - len(named); more > 0 {
		words = append(words, fmt.Sprintf("and %d more", more))
	}
	return strings.Join(words, "; "), nil
}

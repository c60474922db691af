package main

import (
	"fmt"
	"strings"
	"text/tabwriter"

	"github.com/spf13/cobra"

	"bellbuoy/cmd/bellbuoy/internal/round"
	"bellbuoy/schedule"
)

func partsCommand(a *app) *cobra.Command {
	var n int
	c := &cobra.Command{
		Use:   "parts",
		Short: "Parts needed for the visits of the coming weeks",
		Args:  cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error {
			if n < 1 || n > 78 {
				return usagef("--weeks %d: want 1 to 78", n)
			}
			h, err := a.house(c.Context())
			if err != nil {
				return err
			}
			defer h.Close()
			today, err := a.today(h.Config)
			if err != nil {
				return err
			}
			parts, err := h.Parts(c.Context(), today, n)
			if err != nil {
				return err
			}
			if a.asJSON {
				return a.printJSON(partsAsJSON(parts))
			}
			return a.printParts(parts, n, h.Config.Shop.Currency)
		},
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

func partsAsJSON(parts []round.PartNeed) []partJSON {
	out := []partJSON{}
	for _, p := range parts {
		j := partJSON{Code: p.Part.Code, Name: p.Part.Name, Quantity: p.Part.Quantity, Unit: p.Part.Unit, Visits: p.Visits}
		if p.Priced {
			j.Cost = &p.Cost
		}
		out = append(out, j)
	}
	return out
}

func (a *app) printParts(parts []round.PartNeed, n int, currency string) error {
	a.printf("Parts for the visits of the next %d weeks\n", n)
	w := tabwriter.NewWriter(a.out, 0, 4, 2, ' ', 0)
	for _, p := range parts {
		cost := ""
		if p.Priced {
			cost = currency + p.Cost.String()
		}
		fmt.Fprintf(w, "%g %s\t%s\t%s\t%s\tfor %s: %s\n", p.Part.Quantity, p.Part.Unit, p.Part.Code, p.Part.Name, cost, count(len(p.Visits), "visit"), strings.Join(p.Visits, ", "))
	}
	if len(parts) == 0 {
		a.printf("none\n")
	}
	return w.Flush()
}

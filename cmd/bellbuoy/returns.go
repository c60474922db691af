package main

import (
	"context"
	"fmt"
	"net/url"
	"text/tabwriter"

	"github.com/spf13/cobra"

	"bellbuoy/cmd/bellbuoy/internal/figures"
	"bellbuoy/schedule/returns"
)

func returnsCommand(a *cli) *cobra.Command {
	var list, where string
	var refresh bool
	c := &cobra.Command{
		Use:   "returns",
		Short: "Repeat service: revenue, return rates, the year ahead",
		Example: `  bellbuoy returns
  bellbuoy returns --csv lapsed > lapsed.csv`,
		Long: `Prints what the owner's pages show: repeat-service revenue, the running season
from due to done, how many of the boats sold return, what the next twelve
months may bring, and which boats have lapsed.

--csv LIST prints the list behind a figure instead, for spreadsheet programs:
work, sales, times, season, expected, lapsed, hours, visits, warranty, parts,
second-reminders, visits-done, no-shows, sold, forecast, chances, reminded.
--where narrows it, in the words of the page's address:
  bellbuoy returns --csv work --where "month=2027-05&sold=yes"`,
		Args: cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error {
			q, err := readQuery(list, where)
			if err != nil {
				return err
			}
			return a.returns(c.Context(), q, refresh)
		},
	}
	c.Flags().StringVar(&list, "csv", "", "print this `list` as CSV")
	c.Flags().StringVar(&where, "where", "", "narrow the list: `name=value`, joined by &")
	c.Flags().BoolVar(&refresh, "refresh", false, "first work out past seasons again")
	return c
}

// returns prints the report, or the list that was asked for as CSV.
func (a *cli) returns(ctx context.Context, q figures.Query, refresh bool) error {
	h, err := a.openApp(ctx)
	if err != nil {
		return err
	}
	defer h.Close()
	today, err := a.today(h.Config)
	if err != nil {
		return err
	}
	if refresh {
		if err := figures.Replay(ctx, h, today, a.progress("boats worked out")); err != nil {
			return err
		}
	}
	l, err := figures.Open(ctx, h, today)
	if err != nil {
		return err
	}
	if q.List != "" {
		t, err := l.List(ctx, q)
		if err != nil {
			return err
		}
		return t.WriteCSV(a.out)
	}
	r, err := l.Report(ctx)
	if err != nil {
		return err
	}
	if a.asJSON {
		return a.printJSON(r)
	}
	return a.printReturns(r)
}

// readQuery reads the list that was asked for; a fault is one of the call.
func readQuery(list, where string) (figures.Query, error) {
	if list == "" {
		if where != "" {
			return figures.Query{}, usagef("--where narrows a list; name one with --csv")
		}
		return figures.Query{}, nil
	}
	v, err := url.ParseQuery(where)
	if err != nil {
		return figures.Query{}, usagef("--where %q: %w", where, err)
	}
	q, err := figures.ParseQuery(list, v)
	if err != nil {
		return q, usagef("--csv %s --where %q: %w", list, where, err)
	}
	return q, nil
}

func (a *cli) printReturns(r *figures.Report) error {
	money := a.format.WholeMoney
	a.printf("Repeat service as of %s; records since %s\n\n", a.format.Date(r.Today), a.format.Date(r.Since))
	for _, l := range r.MonthlyReport.Lines {
		a.printf("%s\n", l.Words)
	}
	w := tabwriter.NewWriter(a.out, 0, 4, 2, ' ', tabwriter.AlignRight)
	fmt.Fprintf(w, "\nSeason\tRepeat service\tOther work\tReturned\tOf sold before\t\n")
	all := r.Rates.Rows[len(r.Rates.Rows)-1]
	for _, s := range r.Revenue.Seasons {
		share := returns.Share{}
		for i, x := range r.Rates.Seasons {
			if x == s.Season && i < len(all.Cells) {
				share = returns.Share{Came: all.Cells[i].Came.Count, Of: all.Cells[i].Of.Count}
			}
		}
		fmt.Fprintf(w, "%s\t%s\t%s\t%.0f%%\t%d\t\n", s.Season.Title(), money(s.Repeat.Cents), money(s.Other.Cents), 100*share.Rate(), share.Of)
	}
	fmt.Fprintf(w, "\nMonth ahead\tVisits\tExpected\tLikely range (4 in 5): low\thigh\t\n")
	for _, m := range r.Ahead.Months {
		fmt.Fprintf(w, "%s\t%d\t%s\t%s\t%s\t\n", m.Month.Title(), m.Visits, money(m.Expected), money(m.Low), money(m.High))
	}
	if err := w.Flush(); err != nil {
		return err
	}
	a.printf("\nLapsed: %d boats, worth %s a year while they came.\n", r.Away.Count, money(r.Away.Cents))
	if len(r.MonthlyReport.Do) > 0 {
		a.printf("\nFor you to do\n")
	}
	for i, l := range r.MonthlyReport.Do {
		a.printf("%d. %s\n   bellbuoy returns --csv %s\n", i+1, l.Words, shellQuery(l.List))
	}
	return nil
}

// shellQuery is how a list is asked for on the command line.
func shellQuery(q figures.Query) string {
	if v := q.Values(); len(v) > 0 {
		return fmt.Sprintf("%s --where %q", q.List, v.Encode())
	}
	return q.List
}

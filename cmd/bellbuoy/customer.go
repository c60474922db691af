package main

import (
	"errors"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"bellbuoy/cmd/bellbuoy/internal/app"
	"bellbuoy/schedule/words"
	"bellbuoy/store"
	"bellbuoy/store/archive"
)

func customerCommand(a *cli) *cobra.Command {
	c := &cobra.Command{
		Use:     "customer",
		Short:   "Show everything that is kept about a customer, or erase it",
		Example: `  bellbuoy customer show C00017`,
	}
	c.AddCommand(customerShow(a), customerErase(a))
	return c
}

func customerShow(a *cli) *cobra.Command {
	return &cobra.Command{
		Use:     "show ID",
		Short:   "Show everything that is kept about a customer",
		Example: `  bellbuoy customer show C00017 --json`,
		Long: `Shows everything that is kept about a customer: what is filed under their id,
and the boats, work and readings of their time as an owner. --json is for handing
it over; the columns are those of an export.`,
		Args: cobra.ExactArgs(1),
		RunE: a.withApp(func(c *cobra.Command, h *app.App, _ time.Time, args []string) error {
			d, err := archive.CollectDossier(c.Context(), h.DB, args[0])
			if err != nil {
				return noCustomer(err)
			}
			if a.asJSON {
				return a.printJSON(d)
			}
			a.printDossier(&d)
			return nil
		}),
	}
}

// erasedJSON is what "customer erase --json" prints: letters that were emptied,
// and the boats without an owner since today.
type erasedJSON struct {
	ID       string   `json:"id"`
	Messages int      `json:"emails"`
	Boats    []string `json:"boats"`
}

// noCustomer says where ids are found, if that is what is wrong.
func noCustomer(err error) error {
	if errors.Is(err, store.ErrNotFound) {
		return hinted{err, "customer ids are those of customers.csv; \"bellbuoy due --json\" shows some"}
	}
	return err
}

// longestCell is how much of a cell is shown; --json has all of it.
const longestCell = 100

func (a *cli) printDossier(d *archive.Dossier) {
	for _, t := range d.Tables {
		a.printf("%s (%s)\n", t.Name, words.Count(len(t.Rows), "row"))
		for _, row := range t.Rows {
			var said []string
			for i, v := range row {
				if v == "" || t.Columns[i] == "search" {
					continue
				}
				if r := []rune(v); len(r) > longestCell {
					v = string(r[:longestCell]) + " ..."
				}
				said = append(said, t.Columns[i]+": "+strings.ReplaceAll(v, "\n", " / "))
			}
			a.printf("  %s\n", strings.Join(said, ", "))
		}
	}
}

func customerErase(a *cli) *cobra.Command {
	var sure bool
	c := &cobra.Command{
		Use:     "erase ID",
		Short:   "Erase a customer; what was done and paid stays with the boat",
		Example: `  bellbuoy customer erase C00017 --sure`,
		Long: `Removes a customer's name, address, email address and phone number, the reminders
and replies, the text of their emails, and notes that name them. From today their
boats have no owner, and nothing is emailed to them again. The work stays with the
boat: days, services, hours and money. It cannot be undone, so it asks for
--sure. Stop the daemon first if the shop is large: the whole file is rewritten.`,
		Args: cobra.ExactArgs(1),
		RunE: a.withChange(func(c *cobra.Command, h *app.App, now time.Time, args []string) error {
			who, err := h.DB.Customer(c.Context(), args[0])
			if err != nil {
				return noCustomer(err)
			}
			if !sure {
				return usagef("this erases %s (%s) and cannot be undone; repeat the command with --sure", who.Name, who.ID)
			}
			done, _, err := h.EraseCustomer(c.Context(), now, actor, args[0])
			if err != nil {
				return noCustomer(err)
			}
			return a.done(erasedJSON{args[0], done.Messages, done.Boats}, `Erased. %s emptied; %s without an owner since today.
Backups and exports that were made before still hold the person. The last backup goes after %s;
remove the older ones yourself if that is too long.`,
				words.Count(done.Messages, "email"), words.Count(len(done.Boats), "boat"), words.Count(h.Config.Backup.Monthly, "month"))
		}),
	}
	c.Flags().BoolVar(&sure, "sure", false, "yes, erase")
	return c
}

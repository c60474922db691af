package main

import (
	"errors"
	"fmt"
	"slices"
	"strconv"
	"time"

	"github.com/spf13/cobra"

	"bellbuoy/cmd/bellbuoy/internal/app"
	"bellbuoy/schedule"
	"bellbuoy/store"
	"bellbuoy/store/outbox"
)

// letterStates are the states in the order in which they are shown.
var letterStates = []schedule.MessageState{
	schedule.MessageQueued, schedule.MessageLeased, schedule.MessageDeferred, schedule.MessageHeld,
	schedule.MessageSent, schedule.MessageUncertain, schedule.MessageRefused, schedule.MessageExpired,
	schedule.MessageWithdrawn,
}

func mailListCommand(a *cli) *cobra.Command {
	var state, customer string
	var limit int
	c := &cobra.Command{
		Use:        "list",
		SuggestFor: []string{"letters"},
		Short:      "The emails of the outbox, newest first, with what the mail server said",
		Args:       cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error {
			if state != "" && !slices.Contains(letterStates, schedule.MessageState(state)) {
				return usagef("--state %q: want one of %v", state, letterStates)
			}
			h, err := a.openApp(c.Context())
			if err != nil {
				return err
			}
			defer h.Close()
			all, err := outbox.Messages(c.Context(), h.DB, outbox.MessageQuery{State: schedule.MessageState(state), CustomerID: customer, Limit: limit})
			if err != nil {
				return err
			}
			return a.printEmails(all, h.Config.Zone())
		},
	}
	f := c.Flags()
	f.StringVar(&state, "state", "", "only those in this `state`, for example uncertain")
	f.StringVar(&customer, "customer", "", "only those to this customer `id`")
	f.IntVar(&limit, "limit", 50, "at most so `many`")
	return c
}

// emailJSON is one email of "mail list --json".
type emailJSON struct {
	ID       int64                 `json:"id"`
	Queued   time.Time             `json:"queued"`
	State    schedule.MessageState `json:"state"`
	Step     schedule.Step         `json:"step"`
	Customer string                `json:"customer_id"`
	To       string                `json:"to"`
	Subject  string                `json:"subject"`
	Attempts int                   `json:"attempts"`
	Next     *time.Time            `json:"next,omitempty"` // of one that waits
	Answer   string                `json:"answer,omitempty"`
}

func (a *cli) printEmails(all []schedule.Message, zone *time.Location) error {
	out := make([]emailJSON, 0, len(all))
	for i := range all {
		l := &all[i]
		j := emailJSON{l.ID, l.QueuedAt.In(zone), l.State, l.Step, l.CustomerID, l.To, l.Subject, l.Attempts, nil, l.Answer}
		if l.State == schedule.MessageDeferred || l.State == schedule.MessageQueued {
			next := l.NextAt.In(zone)
			j.Next = &next
		}
		out = append(out, j)
	}
	if a.asJSON {
		return a.printJSON(out)
	}
	for i := range out {
		j := &out[i]
		a.printf("%6d  %s  %-9s  %-12s  <%s>  %s\n", j.ID, j.Queued.Format("2006-01-02 15:04"), j.State, j.Step, j.To, j.Subject)
		if j.Answer != "" && j.State != schedule.MessageSent {
			a.printf("        %s\n", j.Answer)
		}
		if j.Next != nil && j.State == schedule.MessageDeferred {
			a.printf("        tried %d times, again at %s\n", j.Attempts, j.Next.Format("2006-01-02 15:04"))
		}
	}
	if len(out) == 0 {
		a.printf("No such emails.\n")
	}
	return nil
}

func mailAgainCommand(a *cli) *cobra.Command {
	return &cobra.Command{
		Use:   "again EMAIL",
		Short: "Send a held, refused or uncertain email after all; never an uncertain reminder",
		Args:  cobra.ExactArgs(1),
		RunE: a.withChange(func(c *cobra.Command, h *app.App, now time.Time, args []string) error {
			id, err := strconv.ParseInt(args[0], 10, 64)
			if err != nil {
				return usagef("mail again: %q is not an email's number; \"bellbuoy mail list\" shows them", args[0])
			}
			if err := h.Requeue(c.Context(), now, actor, id); err != nil {
				if errors.Is(err, store.ErrNotFound) {
					return fmt.Errorf("mail again: there is no email %d", id)
				}
				return err
			}
			return a.done(map[string]int64{"queued": id}, "Email %d is queued again.", id)
		}),
	}
}

package main

import (
	"maps"
	"slices"
	"time"

	"github.com/spf13/cobra"

	"bellbuoy/cmd/bellbuoy/internal/app"
	"bellbuoy/schedule"
	"bellbuoy/store/outbox"
)

func mailStatusCommand(a *cli) *cobra.Command {
	return &cobra.Command{
		Use: "status", Short: "Whether email goes out, the state of the queue, and what was returned", Args: cobra.NoArgs,
		RunE: a.withApp(func(c *cobra.Command, h *app.App, _ time.Time, _ []string) error {
			st, err := outbox.Sending(c.Context(), h.DB)
			if err != nil {
				return err
			}
			counts, err := outbox.MessageCounts(c.Context(), h.DB)
			if err != nil {
				return err
			}
			returned, err := outbox.ReturnedCounts(c.Context(), h.DB)
			if err != nil {
				return err
			}
			doubted, err := outbox.Doubted(c.Context(), h.DB)
			if err != nil {
				return err
			}
			if a.asJSON {
				addresses := make([]string, len(doubted))
				for i := range doubted {
					addresses[i] = doubted[i].To
				}
				return a.printJSON(map[string]any{"on": st.On, "held": st.HeldWhy, "paused": st.PausedWhy, "emails": counts, "returned": returned, "refused_addresses": addresses})
			}
			a.printMailStatus(st, counts, returned, doubted)
			return nil
		}),
	}
}

func (a *cli) printMailStatus(st outbox.SendingState, letters map[schedule.MessageState]int, returned map[string]int, doubted []schedule.Message) {
	a.printf("sending: %s\n", map[bool]string{true: "on", false: "off"}[st.On])
	for _, why := range []string{st.HeldWhy, st.PausedWhy} {
		if why != "" {
			a.printf("stopped: %s\n", why)
		}
	}
	switch {
	case len(doubted) > 0:
		a.printf("         Are these addresses dead (\"bellbuoy mail release --dead\"), or was it the mail server's fault (--again)?\n")
		for i := range doubted {
			a.printf("         %s\n", doubted[i].To)
		}
	case !st.ProbeAt.IsZero():
		a.printf("         Sending resumes by itself when the mail server answers again; \"bellbuoy mail release\" does not wait for that.\n")
	case st.PausedWhy != "":
		a.printf("         The mail server refuses us. Find out why, then \"bellbuoy mail release\".\n")
	}
	for _, s := range letterStates {
		if letters[s] > 0 {
			a.printf("%6d %s\n", letters[s], s)
		}
	}
	if letters[schedule.MessageUncertain] > 0 {
		a.printf("       Uncertain emails may have arrived; \"bellbuoy mail list --state uncertain\" shows them.\n")
	}
	if letters[schedule.MessageWithdrawn] > 0 {
		a.printf("       Withdrawn emails were no longer true; \"bellbuoy mail list --state withdrawn\" says why.\n")
	}
	for _, kind := range slices.Sorted(maps.Keys(returned)) {
		a.printf("%6d came back: %s\n", returned[kind], kind)
	}
}

package main

import (
	"fmt"
	"time"

	"bellbuoy/cmd/bellbuoy/internal/round"

	"github.com/spf13/cobra"
)

func mailCommand(a *app) *cobra.Command {
	c := &cobra.Command{
		Use:   "mail",
		Short: "What goes out: look at it first, switch it on, send it",
		Args:  cobra.NoArgs,
		RunE:  func(c *cobra.Command, _ []string) error { return c.Help() },
	}
	c.AddCommand(mailPreviewCommand(a), mailSendCommand(a), mailStatusCommand(a),
		mailSwitchCommand(a, "on", "Let reminders go out, after you have looked at the preview", true),
		mailSwitchCommand(a, "off", "Stop queueing and sending", false),
		mailReleaseCommand(a), mailLettersCommand(a), mailAgainCommand(a), mailBounceCommand(a))
	return c
}

func mailSendCommand(a *app) *cobra.Command {
	return &cobra.Command{
		Use:   "send",
		Short: "Do one turn now: plan, queue what is due, send what is queued",
		Args:  cobra.NoArgs,
		RunE: a.inHouse(func(c *cobra.Command, h *round.House, _ time.Time, _ []string) error {
			st, err := h.DB.Sending(c.Context())
			if err != nil {
				return err
			}
			switch {
			case !st.On:
				return hinted{fmt.Errorf("mail send: sending is off: nobody has approved the first batch"), "look at it with \"bellbuoy mail preview\", then \"bellbuoy mail on\""}
			case st.HeldWhy != "" || st.PausedWhy != "":
				return hinted{fmt.Errorf("mail send: the queue is stopped: %s%s", st.HeldWhy, st.PausedWhy), "\"bellbuoy mail release\" lets it go on"}
			}
			sender, err := h.NewSender()
			if err != nil {
				return err
			}
			if sender == nil {
				return hinted{fmt.Errorf("mail send: no mail server"), "name one in the settings: mail.server = \"host:port\""}
			}
			res, err := h.SendNow(c.Context(), a.clock(h), sender)
			if err != nil {
				return err
			}
			a.printf("%d sent, %d to be tried again, %d refused, %d uncertain, %d expired\n", res.Sent, res.Deferred, res.Refused, res.Uncertain, res.Expired)
			if res.Stopped != "" {
				a.printf("stopped: %s\n", res.Stopped)
				return errFindings
			}
			return nil
		}),
	}
}

func mailSwitchCommand(a *app, name, short string, on bool) *cobra.Command {
	return &cobra.Command{
		Use: name, Short: short, Args: cobra.NoArgs,
		RunE: a.inHouse(func(c *cobra.Command, h *round.House, now time.Time, _ []string) error {
			if err := h.SwitchSending(c.Context(), now, "command line", on); err != nil {
				return err
			}
			a.printf("Sending is %s.\n", name)
			return nil
		}),
	}
}

func mailReleaseCommand(a *app) *cobra.Command {
	return &cobra.Command{
		Use: "release", Short: "Let a held or paused queue go on", Args: cobra.NoArgs,
		RunE: a.inHouse(func(c *cobra.Command, h *round.House, now time.Time, _ []string) error {
			return h.DB.Release(c.Context(), now, "command line")
		}),
	}
}

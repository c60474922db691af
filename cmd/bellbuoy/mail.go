package main

import (
	"errors"
	"fmt"
	"time"

	"github.com/spf13/cobra"

	"bellbuoy/cmd/bellbuoy/internal/app"
	"bellbuoy/store"
	"bellbuoy/store/outbox"
)

func mailCommand(a *cli) *cobra.Command {
	c := &cobra.Command{
		Use:   "mail",
		Short: "Emails: preview, switch on and off, send, look at the queue",
		Example: `  bellbuoy mail preview
  bellbuoy mail on
  bellbuoy mail status`,
		Args: cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error { return c.Help() },
	}
	c.AddCommand(mailPreviewCommand(a), mailSendCommand(a), mailStatusCommand(a),
		mailSwitchCommand(a, "on", "Switch sending on, after you have checked the preview", true),
		mailSwitchCommand(a, "off", "Switch sending off", false),
		mailReleaseCommand(a), mailListCommand(a), mailAgainCommand(a), mailBounceCommand(a), mailTextsCommand(a))
	return c
}

func mailSendCommand(a *cli) *cobra.Command {
	return &cobra.Command{
		Use:   "send",
		Short: "Send now: plan, queue what is due, send what is queued",
		Args:  cobra.NoArgs,
		RunE: a.withApp(func(c *cobra.Command, h *app.App, now time.Time, _ []string) error {
			st, err := outbox.Sending(c.Context(), h.DB)
			if err != nil {
				return err
			}
			switch {
			case !st.On:
				return hinted{fmt.Errorf("mail send: sending is off: nobody has approved the first emails"), "check them with \"bellbuoy mail preview\", then \"bellbuoy mail on\""}
			case st.HeldWhy != "" || st.PausedWhy != "" && (st.ProbeAt.IsZero() || st.ProbeAt.After(now)):
				return hinted{fmt.Errorf("mail send: sending is paused: %s%s", st.HeldWhy, st.PausedWhy), "\"bellbuoy mail release\" resumes it"}
			}
			sender, err := h.NewSender()
			if errors.Is(err, app.ErrLease) {
				return hinted{fmt.Errorf("mail send: %w", err), "what is queued goes out within half a minute while the daemon runs"}
			}
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
			words := fmt.Sprintf("%d sent, %d to be tried again, %d refused, %d uncertain, %d expired", res.Sent, res.Deferred, res.Refused, res.Uncertain, res.Expired)
			if res.Stopped != "" {
				words += "\nstopped: " + res.Stopped
			}
			err = a.done(sentJSON{res.Sent, res.Deferred, res.Refused, res.Uncertain, res.Expired, res.Stopped}, "%s", words)
			if err == nil && res.Stopped != "" {
				return errFindings
			}
			return err
		}),
	}
}

// sentJSON is what "mail send --json" prints: letters by what became of them,
// and why the turn was broken off, "" if it was not.
type sentJSON struct {
	Sent      int    `json:"sent"`
	Deferred  int    `json:"deferred"`
	Refused   int    `json:"refused"`
	Uncertain int    `json:"uncertain"`
	Expired   int    `json:"expired"`
	Stopped   string `json:"stopped"`
}

func mailSwitchCommand(a *cli, name, short string, on bool) *cobra.Command {
	return &cobra.Command{
		Use: name, Short: short, Args: cobra.NoArgs,
		RunE: a.withChange(func(c *cobra.Command, h *app.App, now time.Time, _ []string) error {
			if err := h.SwitchSending(c.Context(), now, actor, on); err != nil {
				return err
			}
			return a.done(map[string]bool{"on": on}, "Sending is %s.", name)
		}),
	}
}

func mailReleaseCommand(a *cli) *cobra.Command {
	var dead, again bool
	c := &cobra.Command{
		Use: "release", Short: "Resume sending after a hold or a pause", Args: cobra.NoArgs,
		Long: `Resumes sending after a hold or a pause. If the mail server refused so many
addresses that sending was paused, say what it was: --dead if they do not exist,
and nothing more is sent there; --again if it was the server's fault, and their
emails are queued again.`,
		RunE: a.withChange(func(c *cobra.Command, h *app.App, now time.Time, _ []string) error {
			if dead && again {
				return usagef("mail release: --dead and --again: say one of them")
			}
			var err error
			if dead || again {
				err = h.JudgeRefused(c.Context(), now, actor, dead)
			} else {
				err = h.Release(c.Context(), now, actor)
			}
			if errors.Is(err, store.ErrRefused) {
				return hinted{err, "\"bellbuoy mail status\" shows the addresses; --dead or --again says what it was"}
			}
			if err != nil {
				return err
			}
			return a.done(map[string]bool{"released": true}, "Sending has resumed.")
		}),
	}
	c.Flags().BoolVar(&dead, "dead", false, "the refused addresses do not exist: send nothing more there")
	c.Flags().BoolVar(&again, "again", false, "it was the mail server's fault: send to the refused addresses again")
	return c
}

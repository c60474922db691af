package main

import (
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"bellbuoy/cmd/bellbuoy/internal/round"
	"bellbuoy/notify"
	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
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

func mailPreviewCommand(a *app) *cobra.Command {
	var from, to string
	var texts bool
	c := &cobra.Command{
		Use:   "preview",
		Short: "What would go out, day by day, if sending were switched on; sends nothing",
		Args:  cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error {
			h, err := a.house(c.Context())
			if err != nil {
				return err
			}
			defer h.Close()
			today, err := a.today(h.Config)
			if err != nil {
				return err
			}
			first, last := today, today+6
			if err := dayFlag("--from", from, &first); err != nil {
				return err
			}
			last = first + 6
			if err := dayFlag("--to", to, &last); err != nil {
				return err
			}
			if last < first || last-first > 400 {
				return usagef("--from %s --to %s: want a span of 1 to 400 days", first, last)
			}
			days, err := h.Rehearse(c.Context(), first, last)
			if err != nil {
				return err
			}
			if a.asJSON {
				return a.printJSON(rehearsalJSON(days))
			}
			return a.printRehearsal(c, h, days, texts)
		},
	}
	f := c.Flags()
	f.StringVar(&from, "from", "", "first `day`, YYYY-MM-DD; without it today")
	f.StringVar(&to, "to", "", "last `day`; without it a week from the first")
	f.BoolVar(&texts, "text", false, "print each mail's text too")
	return c
}

// dayFlag reads a day if one was given.
func dayFlag(name, value string, d *civil.Day) error {
	if value == "" {
		return nil
	}
	v, err := civil.Parse(value)
	if err != nil {
		return usagef("%s: %w", name, err)
	}
	*d = v
	return nil
}

// noticeJSON is one mail of "mail preview --json".
type noticeJSON struct {
	Day        civil.Day     `json:"day"`
	CustomerID string        `json:"customer_id"`
	Email      string        `json:"email"`
	Step       schedule.Step `json:"step"`
	Subjects   []string      `json:"about"`
}

func rehearsalJSON(days []notify.Rehearsal) []noticeJSON {
	out := []noticeJSON{}
	for _, d := range days {
		for i := range d.Notices {
			n := &d.Notices[i]
			out = append(out, noticeJSON{d.Day, n.Customer.ID, n.Customer.Email, n.Step, n.Subjects})
		}
	}
	return out
}

func (a *app) printRehearsal(c *cobra.Command, h *round.House, days []notify.Rehearsal, texts bool) error {
	total := 0
	for _, d := range days {
		a.printf("%s  %s", d.Day, count(len(d.Notices), "mail"))
		if d.Waiting > 0 {
			a.printf(", %d more wait for room", d.Waiting)
		}
		a.printf("\n")
		total += len(d.Notices)
		for i := range d.Notices {
			n := &d.Notices[i]
			a.printf("            %-12s %s <%s>: %s\n", n.Step, n.Customer.Name, n.Customer.Email, strings.Join(n.Subjects, ", "))
			if !texts {
				continue
			}
			text, err := h.Preview(c.Context(), n)
			if err != nil {
				return err
			}
			a.printf("\n%s\n%s\n", text, strings.Repeat("-", 72))
		}
	}
	a.printf("%s in all; nothing was sent.\n", count(total, "mail"))
	return nil
}

func mailSendCommand(a *app) *cobra.Command {
	return &cobra.Command{
		Use:   "send",
		Short: "Do one turn now: plan, queue what is due, send what is queued",
		Args:  cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error {
			h, err := a.house(c.Context())
			if err != nil {
				return err
			}
			defer h.Close()
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
		},
	}
}

func mailSwitchCommand(a *app, name, short string, on bool) *cobra.Command {
	return &cobra.Command{
		Use: name, Short: short, Args: cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error {
			h, err := a.house(c.Context())
			if err != nil {
				return err
			}
			defer h.Close()
			now, err := a.instant(h.Config)
			if err != nil {
				return err
			}
			if err := h.SwitchSending(c.Context(), now, "command line", on); err != nil {
				return err
			}
			a.printf("Sending is %s.\n", name)
			return nil
		},
	}
}

func mailReleaseCommand(a *app) *cobra.Command {
	return &cobra.Command{
		Use: "release", Short: "Let a held or paused queue go on", Args: cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error {
			h, err := a.house(c.Context())
			if err != nil {
				return err
			}
			defer h.Close()
			now, err := a.instant(h.Config)
			if err != nil {
				return err
			}
			return h.DB.Release(c.Context(), now, "command line")
		},
	}
}

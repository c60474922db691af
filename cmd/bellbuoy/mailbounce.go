package main

import (
	"crypto/sha256"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"time"

	"github.com/spf13/cobra"

	"bellbuoy/cmd/bellbuoy/internal/app"
	"bellbuoy/notify/bounce"
)

// mostIncoming is as much of a message as is read: a report comes long before.
const mostIncoming = 4 << 20

func mailBounceCommand(a *cli) *cobra.Command {
	var to []string
	var keep string
	c := &cobra.Command{
		Use:   "bounce",
		Short: "Read a returned message, from standard input",
		Long: `Reads one message that came to the return address: a bounce, a complaint, an
automatic reply, or a wish to stop. A mail host hands messages over by a pipe,
for example by a line in Postfix's master.cf that has this command for its argv:

  /bin/sh -c 'bellbuoy --config /etc/bellbuoy/bellbuoy.toml mail bounce
    --keep /var/lib/bellbuoy/post --to "$0" || exit 75' ${recipient}

so that a failure makes it try again later. A dead address gets no more email and
its customer is put on the call list; a refusal for a fault of ours pauses
sending until somebody has looked. Only a message to an email's own return
address, or one that quotes an email's id, does anything. What a person wrote is
kept in the Maildir of --keep; without that option it is exit code 1.`,
		Args: cobra.NoArgs,
		RunE: a.withChange(func(c *cobra.Command, h *app.App, now time.Time, _ []string) error {
			message, err := io.ReadAll(io.LimitReader(a.in, mostIncoming))
			if err != nil {
				return fmt.Errorf("read the message on standard input: %w", err)
			}
			if len(message) == 0 {
				return usagef("mail bounce: no message on standard input")
			}
			in, err := h.TakeIn(c.Context(), now, "mail host", message, to...)
			if err != nil {
				return err
			}
			if !in.Handled() && keep != "" {
				if err := keepMessage(keep, now, message); err != nil {
					return err
				}
				a.printf("This is not a bounce: kept in %s for a person to read.\n", keep)
				return nil
			}
			return a.printIncoming(&in)
		}),
	}
	c.Flags().StringVar(&keep, "keep", "", "a Maildir `folder` for messages that a person should read")
	c.Flags().StringSliceVar(&to, "to", nil, "the `address` that the message was delivered to, as the mail host knows it")
	return c
}

// keepMessage puts a message into a Maildir: written whole, then moved to where
// mail programs look. The name is made from the message, so that one handed in
// twice is kept once.
func keepMessage(dir string, now time.Time, message []byte) error {
	for _, d := range []string{"tmp", "new", "cur"} {
		if err := os.MkdirAll(filepath.Join(dir, d), 0o700); err != nil {
			return fmt.Errorf("keep the message: %w", err)
		}
	}
	sum := sha256.Sum256(message)
	name := fmt.Sprintf("%d.%x.bellbuoy", now.Unix(), sum[:12])
	tmp := filepath.Join(dir, "tmp", name)
	if err := os.WriteFile(tmp, message, 0o600); err != nil {
		return fmt.Errorf("keep the message: %w", err)
	}
	return os.Rename(tmp, filepath.Join(dir, "new", name))
}

// incomingJSON is "mail bounce --json".
type incomingJSON struct {
	Kind       bounce.Kind `json:"kind"`
	Message    int64       `json:"email,omitempty"`
	CustomerID string      `json:"customer_id,omitempty"`
	Address    string      `json:"address,omitempty"`
	Why        string      `json:"why,omitempty"`
	Repeated   bool        `json:"repeated"`
	Suppressed bool        `json:"suppressed"`
	Paused     bool        `json:"paused"`
}

func (a *cli) printIncoming(in *app.Incoming) error {
	if a.asJSON {
		err := a.printJSON(incomingJSON{in.Kind, in.OutboxID, in.CustomerID, in.Address, in.Why, in.Repeated, in.Suppressed, in.Paused})
		if err == nil && !in.Handled() {
			err = errFindings
		}
		return err
	}
	a.printf("%s\n", incomingWords(in))
	if !in.Handled() {
		return errFindings
	}
	return nil
}

// incomingWords says in one line what became of a message.
func incomingWords(in *app.Incoming) string {
	switch {
	case !in.Handled():
		return "This is not a bounce: a person should read it."
	case in.Repeated:
		return "Read before; nothing was done again."
	case in.Kind == app.IncomingStop:
		return "Customer " + in.CustomerID + " gets no more reminders."
	case in.Kind == app.IncomingHours:
		return "Customer " + in.CustomerID + " " + in.Why + "; it is on file."
	case in.OutboxID == 0:
		return "Noted (" + string(in.Kind) + "). It names no email of ours or asks for nothing, so nothing was done."
	}
	s := fmt.Sprintf("Email %d to %s came back (%s): %s.", in.OutboxID, in.Address, in.Kind, in.Why)
	switch {
	case in.Suppressed:
		s += " No more email goes there; the customer is on the call list."
	case in.Paused:
		s += " Sending is paused: see \"bellbuoy mail status\"."
	}
	return s
}

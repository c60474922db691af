package main

import (
	"errors"
	"fmt"
	"time"

	"github.com/spf13/cobra"

	"bellbuoy/cmd/bellbuoy/internal/app"
	"bellbuoy/cmd/bellbuoy/internal/config"
	"bellbuoy/cmd/bellbuoy/internal/group"
	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/words"
	"bellbuoy/store"
)

func transferCommand(a *cli) *cobra.Command {
	var to, on string
	var t store.Transfer
	c := &cobra.Command{
		Use:   "transfer BOAT --to SETTINGS --consent-by NAME --consent-how WORDS",
		Short: "Send a boat to a sister shop with its history, by its owner's consent",
		Long: `Sends a boat to a sister shop, which gets the boat, its engines and other parts, its
work without what was paid, readings, measurements, follow-ups, changed rules and
its owner with what they said about emails. The shop that it leaves keeps its own
books: there the boat is inactive, its booked days are given up, and its owner gets
no more email about it, but for one that cancels an appointment in their calendar.
The sister shop tells the owner, once.

The owner must have agreed to it. Who did, when and how is kept by both shops.
What was cut short goes on when the same command is given again.`,
		Example: `  bellbuoy transfer PERCH --config north/bellbuoy.toml --to south/bellbuoy.toml --consent-by "Dana Whitlock" --consent-how "signed the form"`,
		Args:    cobra.ExactArgs(1),
		RunE: a.withChange(func(c *cobra.Command, h *app.App, now time.Time, args []string) error {
			t.BoatID, t.Day, t.Consent.On = args[0], civil.FromTime(now), civil.FromTime(now)
			if on != "" {
				var err error
				if t.Consent.On, err = civil.Parse(on); err != nil {
					return usagef("--consent-on: %w", err)
				}
			}
			sister, err := config.Load(to)
			if err != nil {
				return err
			}
			if sister.Path(sister.Files.Database) == h.Config.Path(h.Config.Files.Database) {
				return usagef("--to: %s is the shop that has the boat", to)
			}
			s, err := openDatabase(c.Context(), sister, false)
			if err != nil {
				return err
			}
			var did group.Transferred
			if err = a.worksHere(c.Context(), s); err == nil {
				did, err = group.Transfer(c.Context(), now, actor, h, s, t)
			}
			if err = errors.Join(err, s.Close()); err != nil {
				return notOnFile(c.Context(), h, t.BoatID, err)
			}
			return a.printTransferred(t.BoatID, did)
		}),
	}
	f := c.Flags()
	f.StringVar(&to, "to", "", "the settings `file` of the sister shop")
	f.StringVar(&t.Consent.By, "consent-by", "", "the `name` of who agreed: the owner")
	f.StringVar(&t.Consent.How, "consent-how", "", "how they agreed, in `words`")
	f.StringVar(&on, "consent-on", "", "the `day` on which they agreed (YYYY-MM-DD); today unless given")
	f.StringVar(&t.Place, "place", "", "the `place` where the boat floats, by the sister shop's settings; its present one unless given")
	_ = c.MarkFlagRequired("to")
	return c
}

func (a *cli) printTransferred(boatID string, did group.Transferred) error {
	told := "Its owner gets an email from there."
	if !did.Told {
		told = "No email goes out about it from there now: call the owner, unless they were told before."
	}
	text := fmt.Sprintf("%s is at %s now, as boat %s of customer %s. %s", boatID, did.Sister, did.BoatID, did.CustomerID, told)
	for _, d := range did.CalledOff {
		text += "\nNo longer booked: " + a.format.Date(d) + "."
	}
	if did.LeftBehind > 0 {
		text += "\n" + words.Plural(did.LeftBehind, "entry", "entries") + " about parts that are no longer aboard stayed here."
	}
	return a.done(did, "%s", text)
}

package main

import (
	"context"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"bellbuoy/cmd/bellbuoy/internal/app"
	"bellbuoy/notify"
	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/words"
)

func mailPreviewCommand(a *cli) *cobra.Command {
	var from, to string
	var show previewShow
	c := &cobra.Command{
		Use:   "preview",
		Short: "What would go out, day by day, if sending were switched on; sends nothing",
		Args:  cobra.NoArgs,
		RunE: a.withPlan(func(c *cobra.Command, h *app.App, now time.Time, _ []string) error {
			today := civil.FromTime(now)
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
			return a.showRehearsal(c.Context(), h, days, show)
		}),
	}
	f := c.Flags()
	f.StringVar(&from, "from", "", "first `day`, YYYY-MM-DD; without it today")
	f.StringVar(&to, "to", "", "last `day`; without it a week from the first")
	f.BoolVar(&show.texts, "text", false, "print each email's text too")
	f.BoolVar(&show.summary, "summary", false, "print emails by month and step and who gets most, instead of each email")
	f.StringVar(&show.dir, "html", "", "write each email into this `folder` as .html, .txt and .eml, with an index.html")
	return c
}

// previewShow is how a rehearsal is shown.
type previewShow struct {
	texts, summary bool
	dir            string // "" writes no files
}

func (a *cli) showRehearsal(ctx context.Context, h *app.App, days []notify.Rehearsal, show previewShow) error {
	if show.dir != "" {
		n, err := writePreview(ctx, h, days, show.dir)
		if err != nil {
			return err
		}
		if !a.asJSON {
			a.printf("%s written to %s; open index.html.\n", words.Count(n, "email"), show.dir)
		}
	}
	switch {
	case a.asJSON && show.summary:
		return a.printJSON(seasonJSON(notify.Summarize(days)))
	case a.asJSON:
		return a.printJSON(rehearsalJSON(days))
	case show.summary:
		a.printSeason(notify.Summarize(days))
		return nil
	case show.dir != "":
		return nil
	}
	return a.printRehearsal(ctx, h, days, show.texts)
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

func (a *cli) printRehearsal(ctx context.Context, h *app.App, days []notify.Rehearsal, texts bool) error {
	total := 0
	for _, d := range days {
		a.printf("%s  %s", d.Day, words.Count(len(d.Notices), "email"))
		if d.Waiting > 0 {
			a.printf(", %d more wait for the daily limit", d.Waiting)
		}
		a.printf("\n")
		total += len(d.Notices)
		for i := range d.Notices {
			n := &d.Notices[i]
			a.printf("            %-12s %s <%s>: %s\n", n.Step, n.Customer.Name, n.Customer.Email, strings.Join(n.About(), "; "))
			if !texts {
				continue
			}
			text, err := h.Preview(ctx, n)
			if err != nil {
				return err
			}
			a.printf("\n%s\n%s\n", text, strings.Repeat("-", 72))
		}
	}
	a.printf("%s in all; nothing was sent.\n", words.Count(total, "email"))
	return nil
}

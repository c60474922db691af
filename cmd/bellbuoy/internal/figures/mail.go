package figures

import (
	"bytes"
	"context"
	_ "embed"
	"fmt"
	"html/template"
	"log/slog"
	"net/mail"
	"strings"
	"time"

	gomail "github.com/wneessen/go-mail"

	"bellbuoy/cmd/bellbuoy/internal/app"
	"bellbuoy/notify"
	"bellbuoy/schedule"
	"bellbuoy/schedule/returns"
	"bellbuoy/store/outbox"
	"bellbuoy/store/report"
)

// stepOwner names the owner's letter in the outbox.
const stepOwner schedule.Step = "owner-letter"

//go:embed report.html
var letterPage string

// Text is the letter as plain text; base is the address of the pages.
func (x *MonthlyReport) Text(base string) string {
	var b strings.Builder
	fmt.Fprintf(&b, "%s: %s\n\n", x.Shop, x.Month.Title())
	for _, l := range x.Lines {
		fmt.Fprintf(&b, "%s\n%s\n\n", l.Words, listURL(base, l.List))
	}
	if len(x.Do) > 0 {
		fmt.Fprintf(&b, "Worth doing\n\n")
	}
	for i, l := range x.Do {
		fmt.Fprintf(&b, "%d. %s\n%s\n\n", i+1, l.Words, listURL(base, l.List))
	}
	fmt.Fprintf(&b, "What each figure means: %s/owner/words\n", base)
	return b.String()
}

// listURL is the page of a list.
func listURL(base string, q Query) string {
	list := q.List
	if v := q.Values(); len(v) > 0 {
		list += "?" + v.Encode()
	}
	return base + "/owner/list/" + list
}

// OwnerMail is the letter as a mail that is ready to be queued.
func OwnerMail(h *app.App, x *MonthlyReport, now time.Time) (schedule.Letter, error) {
	to, err := notify.CheckMailAddress(h.Config.Shop.OwnerEmail)
	if err != nil {
		return schedule.Letter{}, fmt.Errorf("settings: shop.owner_email: %w", err)
	}
	from, err := mail.ParseAddress(h.Config.Mail.From)
	if err != nil {
		return schedule.Letter{}, app.ErrNoSender
	}
	page, err := template.New("letter").Funcs(template.FuncMap{"url": func(q Query) string { return listURL(h.Config.Shop.URL, q) }}).Parse(letterPage)
	if err != nil {
		return schedule.Letter{}, fmt.Errorf("owner's letter: %w", err)
	}
	id := "owner-" + x.Month.String()
	m := gomail.NewMsg(gomail.WithBoundary("bellbuoy-"+id), gomail.WithNoDefaultUserAgent(), gomail.WithEncoding(gomail.EncodingQP))
	m.FromMailAddress(from)
	m.ToMailAddress(&mail.Address{Address: to})
	m.Subject(x.Shop + ": " + x.Month.Title())
	m.SetDateWithValue(now.In(h.Config.Zone()))
	m.SetMessageIDWithValue(id + "@" + h.Config.Host())
	m.SetGenHeader("Auto-Submitted", "auto-generated")
	m.SetBodyString(gomail.TypeTextPlain, x.Text(h.Config.Shop.URL))
	if err := m.AddAlternativeHTMLTemplate(page, struct {
		*MonthlyReport
		Base string
	}{x, h.Config.Shop.URL}); err != nil {
		return schedule.Letter{}, fmt.Errorf("owner's letter: %w", err)
	}
	var raw bytes.Buffer
	if _, err := m.WriteTo(&raw); err != nil {
		return schedule.Letter{}, fmt.Errorf("owner's letter: %w", err)
	}
	return schedule.Letter{
		Key: id, To: to, From: from.Address, Step: stepOwner, Subjects: []string{id},
		MessageID: id + "@" + h.Config.Host(), Subject: x.Shop + ": " + x.Month.Title(), Raw: raw.Bytes(),
		NextAt: now, NotAfter: now.AddDate(0, 0, 20),
	}, nil
}

// jobLetter names the job of the owner's letter; its key is the month.
const jobLetter = "owner-letter"

// letterDays is until which day of the month the letter is still sent, should
// sending be switched on or the settings be completed late.
const letterDays = 15

// Job is the owner's figures' part of each turn, see [Tick].
func Job(h *app.App) app.Job {
	return app.Job{Name: "figures", Run: func(ctx context.Context, at time.Time, log *slog.Logger) error { return Tick(ctx, h, at, log) }}
}

// Tick keeps the plan as it stands when a season begins, works past
// seasons out when older history was taken in, and queues the owner's letter
// once a month, if sending is on and the settings say where to.
func Tick(ctx context.Context, h *app.App, at time.Time, log *slog.Logger) error {
	today := h.Day(at)
	since, err := report.FirstRecordDay(ctx, h.DB)
	if err != nil || since == 0 {
		return err
	}
	season := returns.SeasonOf(today).String()
	err = oncePer(ctx, h, jobReplay, season+"/"+since.String(), at, func() error {
		log.InfoContext(ctx, "working out past seasons", "season", season)
		return replayMissing(ctx, h, today, since)
	})
	if err != nil {
		return err
	}
	st, err := outbox.Sending(ctx, h.DB)
	if _, _, day := today.Date(); err != nil || !st.On || !h.CanMail() || h.Config.Shop.OwnerEmail == "" || day > letterDays {
		return err
	}
	return oncePer(ctx, h, jobLetter, returns.MonthOf(today).String(), at, func() error {
		l, err := Open(ctx, h, today)
		if err != nil {
			return err
		}
		x, err := l.MonthlyReport(ctx)
		if err != nil {
			return err
		}
		letter, err := OwnerMail(h, x, at)
		if err != nil {
			return err
		}
		_, err = outbox.Enqueue(ctx, h.DB, at, []outbox.NewLetter{{Letter: letter}})
		return err
	})
}

// oncePer does a job the first time that it is asked for under a key. A job
// that failed may be tried again.
func oncePer(ctx context.Context, h *app.App, job, key string, at time.Time, do func() error) error {
	first, err := h.DB.OncePer(ctx, job, key, at)
	if err != nil || !first {
		return err
	}
	if err := do(); err != nil {
		if forget := h.DB.ForgetTick(context.WithoutCancel(ctx), job, key); forget != nil {
			return fmt.Errorf("%w; and: %w", err, forget)
		}
		return err
	}
	return nil
}

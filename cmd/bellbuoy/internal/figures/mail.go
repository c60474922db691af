package figures

import (
	"context"
	_ "embed"
	"fmt"
	"log/slog"
	"time"

	"bellbuoy/cmd/bellbuoy/internal/app"
	"bellbuoy/notify/message"
	"bellbuoy/schedule"
	"bellbuoy/schedule/returns"
	"bellbuoy/store/outbox"
	"bellbuoy/store/report"
)

// stepOwner names the owner's letter in the outbox.
const stepOwner schedule.Step = "owner-letter"

// listURL is the page of a list.
func listURL(base string, q Query) string {
	list := q.List
	if v := q.Values(); len(v) > 0 {
		list += "?" + v.Encode()
	}
	return base + "/owner/list/" + list
}

// OwnerMail is the report as an email that is ready to be queued, made and signed
// like every other of the shop.
func OwnerMail(h *app.App, x *MonthlyReport, now time.Time) (schedule.Message, error) {
	base := h.Config.Shop.URL
	section := func(title string, lines []ReportLine) message.Section {
		s := message.Section{Title: title}
		for _, l := range lines {
			s.Lines = append(s.Lines, message.Sentence{Text: l.Words, Link: message.Hyperlink{Label: l.Label, URL: listURL(base, l.List)}})
		}
		return s
	}
	sections := []message.Section{section("", x.Lines)}
	if len(x.Do) > 0 {
		sections = append(sections, section("For you to do", x.Do))
	}
	l, err := h.Report(&message.Report{
		Key: "owner-" + x.Month.String(), Step: stepOwner, To: h.Config.Shop.OwnerEmail,
		Title: x.Shop + ": " + x.Month.Title(), Sections: sections,
		More: message.Hyperlink{Label: "What each figure means", URL: base + "/owner/words"},
		At:   now, NotAfter: now.AddDate(0, 0, 20),
	})
	if err != nil {
		return schedule.Message{}, fmt.Errorf("owner's report to shop.owner_email of the settings: %w", err)
	}
	return l, nil
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
	err = h.OncePer(ctx, jobReplay, season+"/"+since.String(), at, func() error {
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
	return h.OncePer(ctx, jobLetter, returns.MonthOf(today).String(), at, func() error {
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
		return h.QueueReport(ctx, at, letter)
	})
}

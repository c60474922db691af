package app

import (
	"context"
	"strings"
	"time"

	"bellbuoy/notify"
	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/words"
	"bellbuoy/store/report"
)

const (
	// summaryRest is how long a boat must have been left alone before its visit
	// counts as over: work is often written down on the days after.
	summaryRest = 2
	// summarySpan is how long a visit may take, and how old its news may be.
	summarySpan = 10
)

// summaries are the mails after visits, if the shop wants them: what was done
// and what comes next. Work that was done before sending was switched on is
// old news and told to nobody.
func (a *App) summaries(ctx context.Context, now time.Time) ([]notify.Notice, error) {
	p := a.Policy()
	if !a.Config.Reminders.Summaries || !p.Window.Open(now.In(p.Zone)) {
		return nil, nil
	}
	begun, err := a.sendingSince(ctx, now)
	if err != nil {
		return nil, err
	}
	today := a.Day(now)
	worked, err := report.WorkedOn(ctx, a.DB, max(begun, today-summarySpan), today-summaryRest)
	if err != nil {
		return nil, err
	}
	var due []notify.Notice
	for _, w := range worked {
		n, ok, err := a.summary(ctx, &p, now, w.BoatID, w.Last)
		if err != nil {
			return nil, err
		}
		if ok {
			due = append(due, n)
		}
	}
	return due, nil
}

// summary is the mail about what was done on a boat until a day.
func (a *App) summary(ctx context.Context, p *notify.PolicyConfig, now time.Time, boatID string, last civil.Day) (n notify.Notice, ok bool, err error) {
	owner, err := a.OwnerOf(ctx, boatID)
	if err != nil || owner.ID == "" {
		return n, false, err
	}
	r, err := a.Recipient(ctx, owner.ID)
	if err != nil {
		return n, false, err
	}
	from := last - summarySpan
	for _, known := range r.Notified {
		// What an earlier one told is not told again.
		if known.Step == schedule.StepSummary && known.On <= a.Day(now) && strings.HasPrefix(known.Subject, boatID+".") {
			from = max(from, known.On-summaryRest+1)
		}
	}
	done, err := a.doneBetween(ctx, boatID, from, last, a.Language(&owner))
	if err != nil {
		return n, false, err
	}
	n, ok = notify.Summary(r, boatID, last, done, *p, now)
	return n, ok, nil
}

// doneBetween words the shop's work on a boat. Notes are the shop's own and
// stay out of it.
func (a *App) doneBetween(ctx context.Context, boatID string, from, to civil.Day, language string) ([]notify.DoneWork, error) {
	f, err := a.DB.Facts(ctx, boatID)
	if err != nil {
		return nil, err
	}
	labels := map[string]string{}
	for i := range f.Components {
		labels[f.Components[i].ID] = f.Components[i].Label
	}
	cat := a.Planner.Catalogue()
	var done []notify.DoneWork
	home, lithium := a.Planner.HomeCharge(&f)
	for i := range f.Records {
		rec := &f.Records[i]
		if rec.Day < from || rec.Day > to || rec.By != schedule.ByShop {
			continue
		}
		w := notify.DoneWork{Title: rec.TitleIn(cat, language), Winterized: rec.Service == schedule.LayUp}
		if label := labels[rec.ComponentID]; label != "" && rec.ComponentID != boatID {
			w.Title += " (" + words.LowerFirst(label) + ")"
		}
		if home != nil && w.Winterized {
			w.ChargeDays, w.ColdCare = home.StoredDays, lithium
			home = nil // said once
		}
		done = append(done, w)
	}
	return done, nil
}

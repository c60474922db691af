package app

import (
	"context"
	"slices"
	"strconv"
	"strings"
	"time"

	"bellbuoy/notify"
	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/store"
	"bellbuoy/store/outbox"
)

// What was entered by mistake is taken back. form is as with
// [store.DB.RecordWork].

// TakeBackWork takes back work and readings. It owes the corrections given.
func (a *App) TakeBackWork(ctx context.Context, now time.Time, actor, form string, m store.Mistake, owed ...store.Owed) (Change, error) {
	return a.change(ctx, now, m.BoatID, func() error { return a.db.TakeBackWork(ctx, now, actor, form, m, owed...) })
}

// WithoutWork says what taking back work and readings would change in the plan.
func (a *App) WithoutWork(ctx context.Context, now time.Time, m store.Mistake) ([]DueChange, error) {
	before, err := a.dueLines(ctx, m.BoatID)
	if err != nil {
		return nil, err
	}
	f, err := a.Facts(ctx, m.BoatID)
	if err != nil {
		return nil, err
	}
	f.Records = slices.DeleteFunc(slices.Clone(f.Records), func(r schedule.Record) bool {
		return slices.ContainsFunc(m.Records, func(x schedule.Record) bool {
			ev, ok := f.Boat.SeasonEvent(&x)
			return x.ID == r.ID || ok && r.Service == ev.Service && r.Day == ev.Day && r.Amount == 0
		})
	})
	f.Readings = slices.DeleteFunc(slices.Clone(f.Readings), func(r schedule.Reading) bool { return slices.Contains(m.Readings, r) })
	plan := a.Planner.Plan(&f, a.Day(now))
	view := a.Planner.View(&f, &plan)
	return dueChanges(before, firstDue(&view)), nil
}

// TakeBackOwner takes back the newest change of a boat's owner, as
// [store.DB.TakeBackOwner] does. It owes the corrections given.
func (a *App) TakeBackOwner(ctx context.Context, now time.Time, actor, form, boatID string, newest schedule.Ownership, owed ...store.Owed) (Change, error) {
	return a.change(ctx, now, boatID, func() error { return a.db.TakeBackOwner(ctx, now, actor, form, boatID, newest, owed...) })
}

// TakeBackCall takes back a call, with what it settled.
func (a *App) TakeBackCall(ctx context.Context, now time.Time, actor, form string, c store.Call) (Change, error) {
	return a.change(ctx, now, c.BoatID, func() error { return a.db.TakeBackCall(ctx, now, actor, form, c.ID) })
}

// mostTold is how many emails to a customer are looked through for the one that
// told of a mistake.
const mostTold = 50

// ToldOf is the newest email by which a customer learned of a boat's work (step
// [schedule.StepSummary]) or of its being theirs ([schedule.StepWelcome]) since a
// day, and that has gone out or may have; none without an id.
func (a *App) ToldOf(ctx context.Context, customerID, boatID string, step schedule.Step, since civil.Day) (schedule.Message, error) {
	if customerID == "" {
		return schedule.Message{}, nil
	}
	all, err := outbox.Messages(ctx, a.DB, outbox.MessageQuery{CustomerID: customerID, Limit: mostTold})
	for i := range all {
		m := &all[i]
		about := slices.ContainsFunc(m.Subjects, func(s string) bool { return strings.HasPrefix(s, boatID+".") })
		if about && m.Step == step && !m.DotAt.IsZero() && a.Day(m.QueuedAt) >= since {
			return *m, err
		}
	}
	return schedule.Message{}, err
}

// CorrectionOwed is the email that sets right what another told of a boat.
func CorrectionOwed(boatID string, told schedule.Message) store.Owed {
	return store.Owed{Step: schedule.StepCorrection, CustomerID: told.CustomerID, Subjects: []string{boatID, strconv.FormatInt(told.ID, 10)}}
}

// Correct queues an email that sets right what another told of a boat, and pays what is
// owed of it. It reports false if none goes out, as [App.Welcome] does.
func (a *App) Correct(ctx context.Context, now time.Time, boatID string, told schedule.Message) (queued bool, err error) {
	st, err := outbox.Sending(ctx, a.DB)
	if err == nil && st.On {
		queued, err = a.correct(ctx, now, boatID, told)
	}
	return queued, a.paid(ctx, CorrectionOwed(boatID, told), err)
}

func (a *App) correct(ctx context.Context, now time.Time, boatID string, told schedule.Message) (bool, error) {
	r, err := a.Recipient(ctx, told.CustomerID)
	if err != nil {
		return false, err
	}
	b, err := a.DB.Boat(ctx, boatID)
	if err != nil {
		return false, err
	}
	n, ok := notify.Correction(r, b, notify.Told{Day: a.Day(told.QueuedAt), Subject: told.Subject}, a.Policy(), now)
	return a.queueOne(ctx, now, n, ok)
}

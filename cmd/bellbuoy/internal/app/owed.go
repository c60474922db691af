package app

import (
	"context"
	"errors"
	"slices"
	"strconv"
	"time"

	"bellbuoy/notify"
	"bellbuoy/schedule"
	"bellbuoy/store"
	"bellbuoy/store/outbox"
)

// wordAgain queues once more, in today's words, what some withdrawn emails told and
// nobody decides by the hour: a welcome, a summary, a boat that was passed on.
func (a *App) wordAgain(ctx context.Context, now time.Time, withdrawn []schedule.Message) (queued int, err error) {
	for i := range withdrawn {
		m := &withdrawn[i]
		one, err := a.queueFrom(ctx, now, m.CustomerID, m.Step, m.Subjects)
		if err != nil {
			return queued, err
		}
		if one {
			queued++
		}
	}
	return queued, nil
}

// owedTick queues what a change owes and, as the daemon was stopped just then, has not
// queued. What is asked for at this moment queues its own.
func (a *App) owedTick(ctx context.Context, now time.Time) error {
	owed, err := a.DB.Owed(ctx, now.Add(-time.Minute))
	if err != nil || len(owed) == 0 {
		return err
	}
	st, err := outbox.Sending(ctx, a.DB)
	if err != nil {
		return err
	}
	var faults []error
	for _, o := range owed {
		if st.On {
			_, err = a.queueFrom(ctx, now, o.CustomerID, o.Step, o.Subjects)
		}
		faults = append(faults, a.paid(ctx, o, err))
	}
	return errors.Join(faults...)
}

// queueFrom queues an email that nobody decides by the hour from what it is about, if it
// is to go out and has not been queued. There is none about what is not on file any more: a
// customer who was erased, a boat that was merged into another.
func (a *App) queueFrom(ctx context.Context, now time.Time, customerID string, step schedule.Step, subjects []string) (queued bool, err error) {
	defer func() {
		if isNotFound(err) {
			err = nil
		}
	}()
	if step == schedule.StepNewLink {
		st, err := a.DB.FeedState(ctx, store.FeedCustomer, customerID)
		if err == nil {
			err = a.tellNewLink(ctx, now, customerID, st.Generation)
		}
		return false, err
	}
	r, err := a.Recipient(ctx, customerID)
	if err != nil || len(subjects) == 0 {
		return false, err
	}
	n, due, p := notify.Notice{}, false, a.Policy()
	switch step {
	case schedule.StepWelcome:
		for i := range r.Boats {
			if boat := r.Boats[i].Boat.ID; slices.Contains(subjects, schedule.WelcomeSubject(boat)) {
				n, due = notify.Welcome(r, boat, p, now)
			}
		}
	case schedule.StepSummary:
		boat, last, ok := notify.ParseSummary(subjects[0])
		if ok && slices.ContainsFunc(r.Boats, func(b schedule.BoatView) bool { return b.Boat.ID == boat }) { // theirs still
			n, due, err = a.summary(ctx, &p, now, boat, last)
		}
	case schedule.StepPassedOn:
		n, due, err = a.passedOnAgain(ctx, now, r, subjects)
	case schedule.StepCorrection:
		if len(subjects) != 2 { // of a withdrawn email, which does not say which other it corrects
			return false, nil
		}
		id, _ := strconv.ParseInt(subjects[1], 10, 64)
		told, err := outbox.Message(ctx, a.DB, id)
		if err != nil {
			return false, err
		}
		return a.correct(ctx, now, subjects[0], told)
	}
	if err != nil {
		return false, err
	}
	return a.queueOne(ctx, now, n, due)
}

func (a *App) passedOnAgain(ctx context.Context, now time.Time, r schedule.Recipient, subjects []string) (notify.Notice, bool, error) {
	boat, _ := schedule.ParseVisitID(subjects[0])
	b, err := a.DB.Boat(ctx, boat)
	if err != nil {
		return notify.Notice{}, false, err
	}
	sister := ""
	if t, err := a.DB.SentBoat(ctx, boat); err == nil && t.CustomerID == r.Customer.ID {
		sister = t.Sister
	} else if err != nil && !isNotFound(err) {
		return notify.Notice{}, false, err
	}
	t := a.Planner.Settings().Texts.In(a.Language(&r.Customer))
	n, due := notify.PassedOnAgain(r, b, subjects, sister, func(kind string) string { return schedule.VisitTitleIn(t, kind) }, a.Policy(), now)
	return n, due, nil
}

// paid takes out what was owed unless queueing it failed: then the next turn makes up for
// it. It returns the fault, if there is one.
func (a *App) paid(ctx context.Context, o store.Owed, err error) error {
	if err != nil {
		return err
	}
	return a.db.PayOwed(ctx, o)
}

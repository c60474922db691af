package app

import (
	"context"
	"time"

	"bellbuoy/notify"
	"bellbuoy/schedule"
	"bellbuoy/store"
	"bellbuoy/store/outbox"
)

// Sell writes a sale down, plans the boat, and welcomes its buyer; of a boat that we
// did not sell nobody is welcomed to it. What it says about the welcome is as
// [App.Welcome] does.
func (a *App) Sell(ctx context.Context, now time.Time, actor string, s store.Sale) (sold store.Sold, welcomed bool, err error) {
	if sold, err = a.db.Sell(ctx, now, actor, s); err != nil {
		return sold, false, err
	}
	if s.Service {
		_, err = a.follow(ctx, now, sold.BoatID)
		return sold, false, err
	}
	welcomed, err = a.followSale(ctx, now, sold.BoatID, sold.CustomerID)
	return sold, welcomed, err
}

// HandOver writes a change of hands down, plans the boat, tells the earlier
// owner of visits that were booked, and welcomes a new owner. told reports
// whether the earlier owner gets a mail.
func (a *App) HandOver(ctx context.Context, now time.Time, actor string, o store.Handover) (told, welcomed bool, err error) {
	before, err := a.OwnerOf(ctx, o.BoatID)
	if err != nil {
		return false, false, err
	}
	var n notify.Notice
	var owed []store.Owed
	if before.ID != "" {
		r, err := a.Recipient(ctx, before.ID)
		if err != nil {
			return false, false, err
		}
		var due bool
		if n, due = notify.PassedOn(r, o.BoatID, o.Day, a.Policy(), now); due {
			if owed, err = a.passedOnOwed(ctx, &n); err != nil {
				return false, false, err
			}
		}
	}
	to, err := a.db.HandOver(ctx, now, actor, o, owed...)
	if err != nil {
		return false, false, err
	}
	told, err = a.tellPassedOn(ctx, now, n, owed)
	a.untold(ctx, o.BoatID, err)
	welcomed, err = a.followSale(ctx, now, o.BoatID, to)
	return told, welcomed, err
}

// passedOnOwed is the email to an owner, as they were before the boat changed hands, about
// the visits that they had booked for it; none while sending is off.
func (a *App) passedOnOwed(ctx context.Context, n *notify.Notice) ([]store.Owed, error) {
	st, err := outbox.Sending(ctx, a.DB)
	if err != nil || !st.On {
		return nil, err
	}
	return []store.Owed{{Step: schedule.StepPassedOn, CustomerID: n.Customer.ID, Subjects: n.Subjects}}, nil
}

// tellPassedOn queues it.
func (a *App) tellPassedOn(ctx context.Context, now time.Time, n notify.Notice, owed []store.Owed) (bool, error) {
	if len(owed) == 0 {
		return false, nil
	}
	told, err := a.queueOne(ctx, now, n, true)
	return told, a.paid(ctx, owed[0], err)
}

// followSale brings plan and calendars up to date after a boat got another owner,
// and welcomes them.
func (a *App) followSale(ctx context.Context, now time.Time, boatID, to string) (welcomed bool, err error) {
	if _, err := a.follow(ctx, now, boatID); err != nil || to == "" {
		return false, err
	}
	welcomed, err = a.Welcome(ctx, now, boatID)
	a.untold(ctx, boatID, err)
	return welcomed, nil
}

// Welcome queues the mail that greets a boat's owner with its plan. It reports
// false if none goes out: mail is switched off, the owner has no address or
// wants no mail, or was welcomed before. What is owed of it is paid.
func (a *App) Welcome(ctx context.Context, now time.Time, boatID string) (queued bool, err error) {
	owner, err := a.DB.OwnerOf(ctx, boatID)
	if err != nil {
		if isNotFound(err) {
			err = nil
		}
		return false, err
	}
	st, err := outbox.Sending(ctx, a.DB)
	if err == nil && st.On {
		var r schedule.Recipient
		if r, err = a.Recipient(ctx, owner.ID); err == nil {
			n, ok := notify.Welcome(r, boatID, a.Policy(), now)
			queued, err = a.queueOne(ctx, now, n, ok)
		}
	}
	return queued, a.paid(ctx, store.WelcomeOwed(boatID, owner.ID), err)
}

// StillTheirs settles an owner's word that a boat is sold as a mistake: it is
// theirs, and they hear about it again.
func (a *App) StillTheirs(ctx context.Context, now time.Time, actor, boatID string, answerID int64) (Change, error) {
	return a.change(ctx, now, boatID, func() error { return a.db.SeeToAnswer(ctx, now, actor, answerID) })
}

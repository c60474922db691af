package app

import (
	"context"
	"slices"
	"time"

	"bellbuoy/notify"
	"bellbuoy/schedule"
	"bellbuoy/store"
	"bellbuoy/store/outbox"
)

// BeginTransfer writes down that a boat is to go to a sister shop, and who consented;
// see [store.DB.BeginTransfer].
func (a *App) BeginTransfer(ctx context.Context, now time.Time, actor string, t store.Transfer) (store.Transfer, error) {
	return a.db.BeginTransfer(ctx, now, actor, t)
}

// FinishTransfer lets a boat go that the sister shop has. The sister shop tells the
// owner; this one only takes its appointments out of their calendar, as nobody else can
// (RFC 5546, 3.2.5: the organizer cancels).
func (a *App) FinishTransfer(ctx context.Context, now time.Time, t store.Transfer) error {
	r, err := a.Recipient(ctx, t.CustomerID)
	if err != nil {
		return err
	}
	// The email cancels what the calendar of the owner holds of the boat's booked days; where
	// it holds nothing there is none.
	told, err := outbox.Invitations(ctx, a.DB, t.CustomerID)
	if err != nil {
		return err
	}
	var owed []store.Owed
	n, due := notify.SentOn(r, t.BoatID, t.Sister, t.Day, a.Policy(), now)
	if due && slices.ContainsFunc(n.Visits, func(v notify.NoticeVisit) bool {
		return slices.ContainsFunc(told, func(i schedule.Invitation) bool { return slices.Contains(i.Visits, v.Visit.Visit.ID) })
	}) {
		if owed, err = a.passedOnOwed(ctx, &n); err != nil {
			return err
		}
	}
	if err := a.db.FinishTransfer(ctx, now, t, owed...); err != nil {
		return err
	}
	if _, err := a.follow(ctx, now, t.BoatID); err != nil {
		return err
	}
	_, err = a.tellPassedOn(ctx, now, n, owed)
	a.untold(ctx, t.BoatID, err)
	return nil
}

// Receive takes a boat from a sister shop, once for each transfer, plans it, and tells
// its owner, once. told is false where no email goes out: sending is off, or there is no
// address, or they want none.
func (a *App) Receive(ctx context.Context, now time.Time, actor string, s store.Sale, from notify.Sister) (sold store.Sold, told bool, err error) {
	if sold, err = a.db.Sell(ctx, now, actor, s); err != nil {
		return sold, false, err
	}
	if _, err = a.follow(ctx, now, sold.BoatID); err != nil {
		return sold, false, err
	}
	told, err = a.tellReceived(ctx, now, sold, s.Arrival.ID, from)
	a.untold(ctx, sold.BoatID, err)
	return sold, told, nil
}

func (a *App) tellReceived(ctx context.Context, now time.Time, sold store.Sold, transfer string, from notify.Sister) (bool, error) {
	st, err := outbox.Sending(ctx, a.DB)
	if err != nil || !st.On {
		return false, err
	}
	r, err := a.Recipient(ctx, sold.CustomerID)
	if err != nil {
		return false, err
	}
	n, ok := notify.Received(r, sold.BoatID, transfer, from, a.Policy(), now)
	return a.queueOne(ctx, now, n, ok)
}

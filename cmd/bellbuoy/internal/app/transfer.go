package app

import (
	"context"
	"time"

	"bellbuoy/notify"
	"bellbuoy/store"
	"bellbuoy/store/outbox"
)

// BeginTransfer writes down that a boat is to go to a sister shop, and who consented;
// see [store.DB.BeginTransfer].
func (a *App) BeginTransfer(ctx context.Context, now time.Time, actor string, t store.Transfer) (store.Transfer, error) {
	return a.db.BeginTransfer(ctx, now, actor, t)
}

// FinishTransfer lets a boat go that the sister shop has. Nobody is told by this shop:
// the sister shop tells the owner.
func (a *App) FinishTransfer(ctx context.Context, now time.Time, t store.Transfer) error {
	if err := a.db.FinishTransfer(ctx, now, t); err != nil {
		return err
	}
	_, err := a.follow(ctx, now, t.BoatID)
	return err
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

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
func (h *App) Sell(ctx context.Context, now time.Time, actor string, s store.Sale) (sold store.Sold, welcomed bool, err error) {
	if sold, err = h.db.Sell(ctx, now, actor, s); err != nil {
		return sold, false, err
	}
	if s.Service {
		_, err = h.follow(ctx, now, sold.BoatID)
		return sold, false, err
	}
	welcomed, err = h.followSale(ctx, now, sold.BoatID, sold.CustomerID)
	return sold, welcomed, err
}

// HandOver writes a change of hands down, plans the boat, tells the earlier
// owner of visits that were booked, and welcomes a new owner. told reports
// whether the earlier owner gets a mail.
func (h *App) HandOver(ctx context.Context, now time.Time, actor string, o store.Handover) (told, welcomed bool, err error) {
	before, err := h.OwnerOf(ctx, o.BoatID)
	if err != nil {
		return false, false, err
	}
	var r schedule.Recipient
	if before.ID != "" {
		if r, err = h.Recipient(ctx, before.ID); err != nil {
			return false, false, err
		}
	}
	to, err := h.db.HandOver(ctx, now, actor, o)
	if err != nil {
		return false, false, err
	}
	told, err = h.tellPassedOn(ctx, now, r, o)
	h.untold(ctx, o.BoatID, err)
	welcomed, err = h.followSale(ctx, now, o.BoatID, to)
	return told, welcomed, err
}

// tellPassedOn queues the mail to an owner, as they were before the boat changed
// hands, about the visits that they had booked for it.
func (h *App) tellPassedOn(ctx context.Context, now time.Time, r schedule.Recipient, o store.Handover) (bool, error) {
	st, err := outbox.Sending(ctx, h.DB)
	if err != nil || !st.On {
		return false, err
	}
	n, ok := notify.PassedOn(r, o.BoatID, o.Day, h.Policy(), now)
	return h.queueOne(ctx, now, n, ok)
}

// followSale brings plan and calendars up to date after a boat got another owner,
// and welcomes them.
func (h *App) followSale(ctx context.Context, now time.Time, boatID, to string) (welcomed bool, err error) {
	if _, err := h.follow(ctx, now, boatID); err != nil || to == "" {
		return false, err
	}
	welcomed, err = h.Welcome(ctx, now, boatID)
	h.untold(ctx, boatID, err)
	return welcomed, nil
}

// Welcome queues the mail that greets a boat's owner with its plan. It reports
// false if none goes out: mail is switched off, the owner has no address or
// wants no mail, or was welcomed before.
func (h *App) Welcome(ctx context.Context, now time.Time, boatID string) (bool, error) {
	st, err := outbox.Sending(ctx, h.DB)
	if err != nil || !st.On {
		return false, err
	}
	owner, err := h.DB.OwnerOf(ctx, boatID)
	if err != nil {
		if isNotFound(err) {
			err = nil
		}
		return false, err
	}
	r, err := h.Recipient(ctx, owner.ID)
	if err != nil {
		return false, err
	}
	n, ok := notify.Welcome(r, boatID, h.Policy(), now)
	return h.queueOne(ctx, now, n, ok)
}

// StillTheirs settles an owner's word that a boat is sold as a mistake: it is
// theirs, and they hear about it again.
func (h *App) StillTheirs(ctx context.Context, now time.Time, actor, boatID string, answerID int64) (Change, error) {
	return h.change(ctx, now, boatID, func() error { return h.db.SeeToAnswer(ctx, now, actor, answerID) })
}

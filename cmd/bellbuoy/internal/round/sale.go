package round

import (
	"context"
	"errors"
	"time"

	"bellbuoy/notify"
	"bellbuoy/store"
)

// Sell writes a sale down, plans the boat, and welcomes its buyer. What it says
// about the welcome is as [House.Welcome] does.
func (h *House) Sell(ctx context.Context, now time.Time, actor string, s store.Sale) (sold store.Sold, welcomed bool, err error) {
	if sold, err = h.DB.Sell(ctx, now, actor, s); err != nil {
		return sold, false, err
	}
	welcomed, err = h.settleHands(ctx, now, sold.BoatID, sold.CustomerID)
	return sold, welcomed, err
}

// HandOver writes a change of hands down, plans the boat, and welcomes a new
// owner.
func (h *House) HandOver(ctx context.Context, now time.Time, actor string, o store.Handover) (welcomed bool, err error) {
	to, err := h.DB.HandOver(ctx, now, actor, o)
	if err != nil {
		return false, err
	}
	return h.settleHands(ctx, now, o.BoatID, to)
}

// settleHands brings plan and calendars up to date after a boat changed hands.
func (h *House) settleHands(ctx context.Context, now time.Time, boatID, to string) (welcomed bool, err error) {
	today := h.day(now)
	if _, err := h.Settle(ctx, now, today, nil); err != nil {
		return false, err
	}
	// The plan may be the same as before; whom the calendar speaks to is not.
	if err := h.Publish(ctx, now, today, []string{boatID}); err != nil || to == "" {
		return false, err
	}
	return h.Welcome(ctx, now, boatID)
}

// Welcome queues the mail that greets a boat's owner with its plan. It reports
// false if none goes out: mail is switched off, the owner has no address or
// wants no mail, or was welcomed before.
func (h *House) Welcome(ctx context.Context, now time.Time, boatID string) (bool, error) {
	st, err := h.DB.Sending(ctx)
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
	if !ok {
		return false, nil
	}
	queued, err := h.queue(ctx, now, []notify.Notice{n})
	if errors.Is(err, errNoSender) {
		return false, nil
	}
	return queued > 0, err
}

// StillTheirs settles an owner's word that a boat is sold as a mistake: it is
// theirs, and they hear about it again.
func (h *House) StillTheirs(ctx context.Context, now time.Time, actor, boatID string, answerID int64) error {
	if err := h.DB.SeeToAnswer(ctx, now, actor, answerID); err != nil {
		return err
	}
	return h.Publish(ctx, now, h.day(now), []string{boatID})
}

package app

import (
	"cmp"
	"context"
	"strings"
	"time"

	"bellbuoy/notify"
	"bellbuoy/schedule"
	"bellbuoy/store"
	"bellbuoy/store/outbox"
)

// What the desk does about a customer. form is as with [store.DB.RecordWork].

// ChangeCustomer changes how a customer is called and reached. An email that
// waits for the old address is withdrawn and decided again when it is its turn.
// [store.ErrStale] if the customer is no longer on file as was.
func (a *App) ChangeCustomer(ctx context.Context, now time.Time, actor, form string, was, c schedule.Customer) (Change, error) {
	change, err := a.change(ctx, now, "", func() error { return a.db.ChangeCustomer(ctx, now, actor, form, was, c) })
	if err == nil && !strings.EqualFold(was.Email, c.Email) {
		if err := a.followAddress(ctx, now, c.ID); err != nil {
			a.Log.ErrorContext(ctx, "tell an old address that its appointments are off; it is tried again", "error", err)
		}
	}
	return change, err
}

// Language is in which language a customer reads: their own, else the shop's.
func (a *App) Language(c *schedule.Customer) string {
	return cmp.Or(c.Language, a.Config.Shop.Language)
}

// ChooseMails writes down which emails a customer wants no more.
func (a *App) ChooseMails(ctx context.Context, now time.Time, actor, customerID string, noReminders, noMail bool) error {
	return a.db.SetOptOut(ctx, now, actor, customerID, noReminders, noMail)
}

// Unsuppress takes the desk's word that an address works again.
func (a *App) Unsuppress(ctx context.Context, now time.Time, actor, address string) error {
	return outbox.Unsuppress(ctx, a.db, now, actor, address)
}

// TakeOverStops has what customers said in a sister shop about emails, and which
// addresses were found dead there or are used again, hold in this one. It returns
// for how many customers and addresses that changed something.
func (h *App) TakeOverStops(ctx context.Context, now time.Time, sister *App) (int, error) {
	theirs, err := outbox.StopsOf(ctx, sister.DB)
	if err != nil {
		return 0, err
	}
	return outbox.TakeOver(ctx, h.db, now, h.Config.Shop.Name, sister.Config.Shop.Name, theirs)
}

// SendPage queues an email with the address of a customer's page, who asked for
// it. It reports false if none goes out: mail is switched off, or the customer
// has no address that works or wants no email.
func (a *App) SendPage(ctx context.Context, now time.Time, customerID string) (bool, error) {
	st, err := outbox.Sending(ctx, a.DB)
	if err != nil || !st.On {
		return false, err
	}
	r, err := a.Recipient(ctx, customerID)
	if err != nil {
		return false, err
	}
	n, ok := notify.Page(r, a.Policy(), now)
	return a.queueOne(ctx, now, n, ok)
}

// What the desk does about a boat itself.

// ChangeBoat changes where a boat is, what it is called and what it is; its plan
// follows. [store.ErrStale] if it is no longer on file as was.
func (a *App) ChangeBoat(ctx context.Context, now time.Time, actor, form string, was, b schedule.Boat) (Change, error) {
	return a.change(ctx, now, b.ID, func() error { return a.db.ChangeBoat(ctx, now, actor, form, was, b) })
}

// ChangePart adds, changes, replaces or retires a component.
func (a *App) ChangePart(ctx context.Context, now time.Time, actor, form string, c store.PartChange) (Change, error) {
	return a.change(ctx, now, c.BoatID, func() error {
		_, err := a.db.ChangePart(ctx, now, actor, form, c)
		return err
	})
}

// UnretirePart takes back that a component is no longer aboard.
func (a *App) UnretirePart(ctx context.Context, now time.Time, actor, boatID, id string) (Change, error) {
	return a.change(ctx, now, boatID, func() error { return a.db.UnretirePart(ctx, now, actor, boatID, id) })
}

// SetBoatNote writes what the desk should know of a boat, in place of the note
// that somebody saw.
func (a *App) SetBoatNote(ctx context.Context, now time.Time, actor, boatID, was, words string) error {
	return a.db.SetBoatNote(ctx, now, actor, boatID, was, words)
}

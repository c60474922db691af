package app

import (
	"context"
	"slices"

	"bellbuoy/notify"
	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/store/outbox"
)

// Recipient gathers what the policy may know about one customer.
func (a *App) Recipient(ctx context.Context, customerID string) (schedule.Recipient, error) {
	c, err := a.DB.Customer(ctx, customerID)
	if err != nil {
		return schedule.Recipient{}, err
	}
	var found schedule.Recipient
	err = a.eachRecipient(ctx, []schedule.Customer{c}, a.boatsInWords, func(r *schedule.Recipient) error {
		found = *r
		return nil
	})
	return found, err
}

// EachRecipient gathers the same for every customer, a page at a time.
func (a *App) EachRecipient(ctx context.Context, fn func(*schedule.Recipient) error) error {
	return a.everyRecipient(ctx, a.boatsInWords, fn)
}

// everyRecipient is [App.EachRecipient] with the boats as somebody reads them.
func (a *App) everyRecipient(ctx context.Context, boats readBoats, fn func(*schedule.Recipient) error) error {
	after := ""
	for {
		page, err := a.DB.Customers(ctx, after, Batch)
		if err != nil || len(page) == 0 {
			return err
		}
		if err := a.eachRecipient(ctx, page, boats, fn); err != nil {
			return err
		}
		after = page[len(page)-1].ID
	}
}

// readBoats reads the plans of boats for their owner.
type readBoats func(context.Context, *schedule.Customer, []schedule.Boat) ([]schedule.BoatView, error)

func (a *App) eachRecipient(ctx context.Context, page []schedule.Customer, boats readBoats, fn func(*schedule.Recipient) error) error {
	all, err := a.contacts(ctx, page)
	if err != nil {
		return err
	}
	for i := range all {
		r := &all[i]
		owned, err := a.DB.BoatsOf(ctx, r.Customer.ID)
		if err != nil {
			return err
		}
		if r.Boats, err = boats(ctx, &r.Customer, owned); err != nil {
			return err
		}
		if err := fn(r); err != nil {
			return err
		}
	}
	return nil
}

// boatsInWords are views in the owner's words.
func (a *App) boatsInWords(ctx context.Context, owner *schedule.Customer, boats []schedule.Boat) (all []schedule.BoatView, err error) {
	for _, b := range boats {
		v, err := a.ViewIn(ctx, b.ID, a.Language(owner))
		if err != nil {
			return nil, err
		}
		all = append(all, v.ForOwner())
	}
	return all, nil
}

// boatsInOutline are views without words.
func (a *App) boatsInOutline(places Places) readBoats {
	return func(ctx context.Context, _ *schedule.Customer, boats []schedule.Boat) (all []schedule.BoatView, err error) {
		for _, b := range boats {
			f := schedule.Facts{Boat: b, Place: places.Of(b.Place)}
			var plan schedule.BoatPlan
			if f.FollowUps, plan, err = a.DB.Outline(ctx, b.ID); err != nil {
				return nil, err
			}
			all = append(all, a.Planner.Outline(&f, &plan))
		}
		return all, nil
	}
}

// addDropped gives a recipient's boats the visits that the customer takes for booked and
// that are neither planned nor booked any more. One whose work is recorded keeps its booking.
func (a *App) addDropped(ctx context.Context, r *schedule.Recipient, today civil.Day) error {
	for _, id := range notify.TakenForBooked(r, today) {
		boat, kind := schedule.ParseVisitID(id)
		k := slices.IndexFunc(r.Boats, func(b schedule.BoatView) bool { return b.Boat.ID == boat })
		if k < 0 {
			continue // no longer theirs
		}
		b := &r.Boats[k]
		if slices.ContainsFunc(b.Visits, func(v schedule.VisitView) bool { return v.Visit.ID == id }) {
			continue
		}
		if _, err := a.DB.Booking(ctx, id); !isNotFound(err) {
			if err != nil {
				return err
			}
			continue
		}
		t := a.Planner.Settings().Texts.In(a.Language(&r.Customer))
		b.Dropped = append(b.Dropped, schedule.VisitView{Visit: schedule.Visit{ID: id, BoatID: b.Boat.ID, Kind: kind}, Title: schedule.VisitTitleIn(t, kind)})
	}
	return nil
}

// contacts gathers what the policy may know about customers but for their boats.
func (a *App) contacts(ctx context.Context, page []schedule.Customer) ([]schedule.Recipient, error) {
	ids := make([]string, len(page))
	for i := range page {
		ids[i] = page[i].ID
	}
	reach, err := outbox.MailStatuses(ctx, a.DB, ids)
	if err != nil {
		return nil, err
	}
	notified, err := outbox.Notified(ctx, a.DB, ids)
	if err != nil {
		return nil, err
	}
	answers, err := a.DB.Answers(ctx, ids)
	if err != nil {
		return nil, err
	}
	off, err := a.DB.CalledOff(ctx, ids)
	if err != nil {
		return nil, err
	}
	draws, err := outbox.Holdouts(ctx, a.DB, ids)
	if err != nil {
		return nil, err
	}
	all := make([]schedule.Recipient, len(page))
	for i, c := range page {
		known := reach[c.ID]
		all[i] = schedule.Recipient{
			Customer: c, Notified: notified[c.ID], Answers: answers[c.ID], CalledOff: off[c.ID], Holdouts: draws[c.ID],
			NoReminders: known.NoReminders, NoMail: known.NoMail, Suppressed: known.Suppressed, LastSign: known.LastSign,
		}
		if !known.LastMail.IsZero() {
			all[i].LastMail = civil.FromTime(known.LastMail.In(a.Config.Zone()))
		}
	}
	return all, nil
}

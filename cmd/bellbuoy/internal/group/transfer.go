package group

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"bellbuoy/cmd/bellbuoy/internal/app"
	"bellbuoy/notify"
	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/store"
	"bellbuoy/store/outbox"
)

// Transferred is what became of a boat that goes to a sister shop.
type Transferred struct {
	Sister     string      `json:"sister"`      // the shop that has it now
	BoatID     string      `json:"boat"`        // there
	CustomerID string      `json:"customer"`    // there
	Told       bool        `json:"told"`        // its owner gets an email from the sister shop
	CalledOff  []civil.Day `json:"called_off"`  // days that were booked and are no longer
	LeftBehind int         `json:"left_behind"` // records and readings of parts that are no longer aboard
}

// Transfer has a boat go from one shop to another with its history, by the consent in
// t: the sister shop gets the boat, what it is made of, its records without the money,
// readings, measurements, follow-ups, changed rules and its owner; the one it leaves
// keeps all that in its books, inactive. What was begun and cut short goes on from
// where it was, and what is done stays as it is.
func Transfer(ctx context.Context, now time.Time, actor string, from, to *app.App, t store.Transfer) (Transferred, error) {
	t.Sister = to.Config.Shop.Name
	b, err := from.DB.Boat(ctx, t.BoatID)
	if err != nil {
		return Transferred{}, err
	}
	before, err := from.DB.SentBoat(ctx, b.ID)
	switch begun := err == nil; {
	case err != nil && !errors.Is(err, store.ErrNotFound):
		return Transferred{}, err
	case begun && before.Sister == t.Sister && (!before.Done || b.Gone != 0):
		return carry(ctx, now, from, to, before)
	}
	if t.Place == "" {
		t.Place = b.Place
	}
	if places := to.Config.PlaceNames(); !slices.Contains(places, t.Place) {
		return Transferred{}, fmt.Errorf("%s has no place %q; name one of its own: %s: %w", t.Sister, t.Place, strings.Join(places, ", "), store.ErrRefused)
	}
	there, err := knownThere(ctx, to, b.HIN)
	if err != nil {
		return Transferred{}, err
	}
	if owner, err := to.OwnerOf(ctx, there.Boat.ID); err != nil || owner.ID != "" {
		return Transferred{}, errors.Join(err, fmt.Errorf("%s has a boat with its HIN already, %s, which is %s's: %w", t.Sister, there.Boat.ID, owner.Name, store.ErrRefused))
	}
	if t, err = from.BeginTransfer(ctx, now, actor, t); err != nil {
		return Transferred{}, err
	}
	return carry(ctx, now, from, to, t)
}

// Resume goes on with transfers from a shop that were cut short. Those to a shop that
// is not open wait for it.
func (g *Group) Resume(ctx context.Context, now time.Time, from *app.App) error {
	open, err := from.DB.OpenTransfers(ctx)
	if err != nil {
		return err
	}
	var faults []error
	for _, t := range open {
		for _, m := range g.Members() {
			if m.App != nil && m.App.Config.Shop.Name == t.Sister {
				if _, err := carry(ctx, now, from, m.App, t); err != nil {
					faults = append(faults, err)
				}
			}
		}
	}
	return errors.Join(faults...)
}

// carry does what is left of a transfer that has begun. Each step may be done again:
// the sister shop takes a transfer once, and tells of it once.
func carry(ctx context.Context, now time.Time, from, to *app.App, t store.Transfer) (Transferred, error) {
	out := Transferred{Sister: t.Sister}
	sale, err := saleOf(ctx, from, to, t, &out)
	if err != nil {
		return out, err
	}
	sold, told, err := to.Receive(ctx, now, t.Actor, sale, notify.Sister{Shop: from.Config.Shop.Name, Booked: out.CalledOff})
	if err != nil {
		return out, err
	}
	out.BoatID, out.CustomerID, out.Told = sold.BoatID, sold.CustomerID, told
	return out, from.FinishTransfer(ctx, now, t)
}

// saleOf is what the sister shop writes down.
func saleOf(ctx context.Context, from, to *app.App, t store.Transfer, out *Transferred) (store.Sale, error) {
	f, err := from.DB.Facts(ctx, t.BoatID)
	if err != nil {
		return store.Sale{}, err
	}
	s := store.Sale{Service: true, Day: t.Day, Boat: f.Boat, Booked: store.GiveUpBooked,
		Arrival: &store.Arrival{Transfer: t, FollowUps: f.FollowUps, Overrides: f.Overrides}}
	s.Arrival.Sister = from.Config.Shop.Name
	s.Boat.ID, s.Boat.Place, s.Boat.Gone = "", t.Place, 0
	for _, b := range f.Bookings {
		if b.Day >= t.Day {
			out.CalledOff = append(out.CalledOff, b.Day)
		}
	}
	slices.Sort(out.CalledOff)
	if s.Buyer, err = buyer(ctx, from, to, t.CustomerID, s.Arrival); err != nil {
		return s, err
	}
	s.Work.Measurements, err = from.DB.Measurements(ctx, t.BoatID)
	if err != nil {
		return s, err
	}
	known, err := knownThere(ctx, to, f.Boat.HIN)
	if err != nil {
		return s, err
	}
	s.Boat.ID = known.Boat.ID
	rename(&s, &f, &known, out)
	return s, nil
}

// knownThere are the facts of a boat that the sister shop had before; none without an
// id.
func knownThere(ctx context.Context, to *app.App, hin string) (schedule.Facts, error) {
	b, err := to.DB.BoatByHIN(ctx, hin)
	if errors.Is(err, store.ErrNotFound) {
		return schedule.Facts{}, nil
	}
	if err != nil {
		return schedule.Facts{}, err
	}
	return to.DB.Facts(ctx, b.ID)
}

// rename gives what goes along the ids of the sister shop: of a part that the boat had
// there before its own, else a stand-in. What the sister shop has on record already,
// and what is about parts that are no longer aboard, stays behind.
func rename(s *store.Sale, f, known *schedule.Facts, out *Transferred) {
	ids := map[string]string{"": "", f.Boat.ID: store.NewHull}
	before := map[string]string{"": "", known.Boat.ID: store.NewHull}
	for i, p := range f.Components {
		old := p.ID
		p.ID = fmt.Sprint(store.NewID, i+1)
		for _, there := range known.Components {
			if there.Kind == p.Kind && there.Label == p.Label && there.InService == p.InService && before[there.ID] == "" {
				p.ID, before[there.ID] = there.ID, there.ID
				break
			}
		}
		ids[old] = p.ID
		s.Components = append(s.Components, p)
	}
	s.Work.Records = aboard(f.Records, ids, out, func(r *schedule.Record) *string { return &r.ComponentID })
	s.Work.Records = slices.DeleteFunc(s.Work.Records, func(r schedule.Record) bool {
		return slices.ContainsFunc(known.Records, func(k schedule.Record) bool {
			return k.Day == r.Day && k.Service == r.Service && k.By == r.By && before[k.ComponentID] == r.ComponentID
		})
	})
	for i := range s.Work.Records {
		s.Work.Records[i].ID, s.Work.Records[i].Amount = "", 0
	}
	s.Work.Readings = aboard(f.Readings, ids, out, func(r *schedule.Reading) *string { return &r.ComponentID })
	s.Work.Readings = slices.DeleteFunc(s.Work.Readings, func(r schedule.Reading) bool {
		return slices.ContainsFunc(known.Readings, func(k schedule.Reading) bool {
			return k.Day == r.Day && k.Hours == r.Hours && before[k.ComponentID] == r.ComponentID
		})
	})
	s.Work.Measurements = aboard(s.Work.Measurements, ids, out, func(m *store.Measurement) *string { return &m.ComponentID })
	s.Arrival.FollowUps = aboard(s.Arrival.FollowUps, ids, out, func(u *schedule.FollowUp) *string { return &u.ComponentID })
	s.Arrival.Overrides = aboard(s.Arrival.Overrides, ids, out, func(o *schedule.Override) *string { return &o.ComponentID })
}

// aboard are those of some rows whose part is aboard, by its id at the sister shop.
func aboard[T any](all []T, ids map[string]string, out *Transferred, part func(*T) *string) []T {
	var kept []T
	for _, x := range all {
		id, on := ids[*part(&x)]
		if !on {
			out.LeftBehind++
			continue
		}
		*part(&x) = id
		kept = append(kept, x)
	}
	return kept
}

// buyer is the owner as the sister shop has them, by name and email address or phone,
// or as new; and what they said about emails.
func buyer(ctx context.Context, from, to *app.App, id string, a *store.Arrival) (schedule.Customer, error) {
	c, err := from.DB.Customer(ctx, id)
	if err != nil {
		return c, err
	}
	choice, err := from.DB.MailChoice(ctx, id)
	if err != nil {
		return c, err
	}
	status, err := outbox.MailStatuses(ctx, from.DB, []string{id})
	if err != nil {
		return c, err
	}
	a.NoReminders, a.NoMail, a.Dead = choice.NoReminders, choice.NoMail, status[id].Suppressed
	if c.Language == "" {
		c.Language = from.Config.Shop.Language
	}
	c.ID = ""
	alike, err := to.DB.FindCustomers(ctx, c.Name, 100)
	if err != nil {
		return c, err
	}
	for _, other := range alike {
		if strings.EqualFold(other.Name, c.Name) && (c.Email != "" && strings.EqualFold(other.Email, c.Email) || c.Email == "" && c.Phone != "" && other.Phone == c.Phone) {
			c.ID = other.ID
			break
		}
	}
	return c, nil
}

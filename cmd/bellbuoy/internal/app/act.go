package app

import (
	"context"
	"slices"
	"strings"
	"time"

	"bellbuoy/notify"
	"bellbuoy/notify/link"
	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/store"
	"bellbuoy/store/duplicates"
	"bellbuoy/store/freeze"
	"bellbuoy/store/imports"
	"bellbuoy/store/imports/mapping"
	"bellbuoy/store/imports/sheet"
	"bellbuoy/store/outbox"
	"bellbuoy/store/report"
)

// What the desk does about boats and visits. actor is who stands in the log of
// changes; an error of the store's kinds says why something was refused.

// Book fixes the day of a visit for the desk, or moves it. A [*FullWeek] if the
// week has no hours for it and b.Over does not say that this is meant;
// [store.ErrStale] if the visit is no longer booked as it was, nil for however.
// A day that is doubted is a [*Doubtful] unless sure says that it is right.
func (a *App) Book(ctx context.Context, now time.Time, actor string, b schedule.Booking, was *string, sure bool) (Change, error) {
	doubts, err := a.doubtBooking(ctx, now, &b)
	if err != nil {
		return Change{}, err
	}
	return a.change(ctx, now, b.BoatID, func() error {
		return a.sure(ctx, now, actor, b.BoatID, doubts, sure, func() error {
			return a.db.Book(ctx, now, actor, b, was, a.hoursFit(b.Over))
		})
	})
}

// Unbook takes a booking back; its visit is penciled in again. was is as for
// [App.Book], why as for [store.DB.Unbook].
func (a *App) Unbook(ctx context.Context, now time.Time, actor, boatID, visitID string, was *string, why *schedule.CalledOff) (Change, error) {
	return a.change(ctx, now, boatID, func() error { return a.db.Unbook(ctx, now, actor, visitID, was, why) })
}

// Pin pencils a visit into the week that the desk chose; week 0 leaves it to the
// planner again.
func (a *App) Pin(ctx context.Context, now time.Time, actor, boatID, visitID string, week civil.Week) (Change, error) {
	return a.change(ctx, now, boatID, func() error { return a.db.Pin(ctx, now, actor, visitID, week) })
}

// Record writes down what was done to a boat, and gives the records and
// follow-ups of w their ids. form is as with [store.DB.RecordWork]. An entry that is
// doubted is a [*Doubtful] unless sure says that it is right.
func (a *App) Record(ctx context.Context, now time.Time, actor, form string, w *store.Work, sure bool) (Change, error) {
	doubts, err := a.doubtWork(ctx, w)
	if err != nil {
		return Change{}, err
	}
	for i := range w.FollowUps {
		completeFollowUp(&w.FollowUps[i])
	}
	return a.change(ctx, now, w.BoatID, func() error {
		return a.sure(ctx, now, actor, w.BoatID, doubts, sure, func() error { return a.db.RecordWork(ctx, now, actor, form, *w) })
	})
}

// RecheckDays is in how many days a finding is looked at again unless somebody
// says by when.
const RecheckDays = 30

// completeFollowUp gives a follow-up the title and the day that it lacks.
func completeFollowUp(f *schedule.FollowUp) {
	if f.Title == "" {
		first, _, _ := strings.Cut(f.Finding, "\n")
		f.Title = "Follow-up: " + strings.TrimSpace(first)
	}
	if f.Due == 0 {
		f.Due = f.Raised + RecheckDays
	}
}

// RemoveFollowUp drops a follow-up that is no longer wanted. A [*store.StillBooked]
// where a visit is booked for nothing else: the day would stay booked without a visit.
func (a *App) RemoveFollowUp(ctx context.Context, now time.Time, actor, boatID, id string) (Change, error) {
	return a.change(ctx, now, boatID, func() error {
		plan, err := a.DB.Plan(ctx, boatID)
		if err != nil {
			return err
		}
		for i := range plan.Visits {
			v := &plan.Visits[i]
			other := slices.ContainsFunc(plan.Items, func(it schedule.DueItem) bool { return it.VisitID == v.ID && !it.IsFollowUp(id) })
			if v.Booked() && !other {
				return &store.StillBooked{Booking: *v.Booking}
			}
		}
		return a.db.RemoveFollowUp(ctx, now, actor, boatID, id)
	})
}

// SetOverride changes a rule for one boat or one component.
func (a *App) SetOverride(ctx context.Context, now time.Time, actor string, o schedule.Override) (Change, error) {
	return a.change(ctx, now, o.BoatID, func() error { return a.db.SetOverride(ctx, now, actor, o) })
}

// RemoveOverride puts a rule back to what the catalog says.
func (a *App) RemoveOverride(ctx context.Context, now time.Time, actor string, o schedule.Override) (Change, error) {
	return a.change(ctx, now, o.BoatID, func() error {
		return a.db.RemoveOverride(ctx, now, actor, o.BoatID, o.ComponentID, o.Rule)
	})
}

// SetWinterWork notes whether a boat's owner agrees that what is done cold is done
// in the winter, while the boat is in our storage.
func (a *App) SetWinterWork(ctx context.Context, now time.Time, actor, boatID string, agrees bool) (Change, error) {
	return a.change(ctx, now, boatID, func() error { return a.db.SetWinterWork(ctx, now, actor, boatID, agrees) })
}

// NoteCall writes down a call and what came of it. A note about a visit stands on
// its work sheet too.
func (a *App) NoteCall(ctx context.Context, now time.Time, c store.Call) (Change, error) {
	return a.change(ctx, now, c.BoatID, func() error {
		if err := a.db.LogCall(ctx, now, c); err != nil || c.Note == "" || c.VisitID == "" {
			return err
		}
		return a.db.AddVisitNote(ctx, now, store.VisitNote{Actor: c.Actor, BoatID: c.BoatID, VisitID: c.VisitID, Words: c.Note})
	})
}

// SeeToReply writes down that somebody of the shop has seen to a reply.
func (a *App) SeeToReply(ctx context.Context, now time.Time, actor string, id int64) error {
	return a.db.SeeToAnswer(ctx, now, actor, id)
}

// WishCall puts a customer on the call list.
func (a *App) WishCall(ctx context.Context, w report.CallRequest) error {
	return report.WishRing(ctx, a.db, w.At, w)
}

// AddAbsence gives a technician days off.
func (a *App) AddAbsence(ctx context.Context, now time.Time, actor string, absence store.Absence) (Change, error) {
	return a.changeHours(ctx, now, func() error { return a.db.AddAbsence(ctx, now, actor, absence) })
}

// RemoveAbsence takes days off back.
func (a *App) RemoveAbsence(ctx context.Context, now time.Time, actor string, id int64) (Change, error) {
	return a.changeHours(ctx, now, func() error { return a.db.RemoveAbsence(ctx, now, actor, id) })
}

// CloseDay closes the shop on a day.
func (a *App) CloseDay(ctx context.Context, now time.Time, actor string, d store.ClosedDay) (Change, error) {
	return a.changeHours(ctx, now, func() error { return a.db.CloseDay(ctx, now, actor, d) })
}

// OpenDay opens the shop again on a day that was closed.
func (a *App) OpenDay(ctx context.Context, now time.Time, actor string, d civil.Day) (Change, error) {
	return a.changeHours(ctx, now, func() error { return a.db.OpenDay(ctx, now, actor, d) })
}

// changeHours has act change the shop's hours. Those are no fact of a boat, so
// no plan is made again, and all weeks are.
func (a *App) changeHours(ctx context.Context, now time.Time, act func() error) (Change, error) {
	today := a.Day(now)
	if _, err := a.Settle(ctx, now, today, nil); err != nil {
		return Change{}, err
	}
	if err := act(); err != nil {
		return Change{}, err
	}
	a.settling.Lock()
	defer a.settling.Unlock()
	p, err := a.pencilAll(ctx, today)
	if err != nil {
		return Change{}, err
	}
	done, err := a.publishPencilled(ctx, now, today, Planned{}, p)
	return Change{Planned: done}, err
}

// What concerns many boats.

// Intake takes in files, or with opts.DryRun says what they would do.
func (a *App) Intake(ctx context.Context, now time.Time, files []imports.File, opts imports.IntakeOptions) (r imports.Report, c Change, err error) {
	c, err = a.importFiles(ctx, now, opts.DryRun, func(db *store.DB) (err error) {
		r, err = imports.Intake(ctx, db, now, files, a.Known(), opts)
		return err
	})
	return r, c, err
}

// IntakeMapped takes in a shop's own tables through a mapping, or with
// opts.DryRun says what they would do.
func (a *App) IntakeMapped(ctx context.Context, now time.Time, books []*sheet.Book, m *mapping.Mapping, opts imports.MappedOptions) (r imports.MappedReport, c Change, err error) {
	c, err = a.importFiles(ctx, now, opts.DryRun, func(db *store.DB) (err error) {
		r, err = imports.IntakeMapped(ctx, db, now, books, m, a.Known(), opts)
		return err
	})
	return r, c, err
}

// ProposeOptions are what a mapping is drafted with: the shop's places, the services
// that its rules know, and the country of its phone numbers.
func (a *App) ProposeOptions(today civil.Day) mapping.ProposeOptions {
	o := mapping.ProposeOptions{Today: today, Places: a.Config.PlaceNames(), Region: a.Config.PhoneRegion()}
	catalogue := a.Planner.Catalogue()
	for _, code := range catalogue.ServiceCodes() {
		o.Services = append(o.Services, mapping.Service{Code: code, Title: catalogue.ServiceTitle(code)})
	}
	return o
}

// importFiles changes the shop, or with dry a copy of it.
func (a *App) importFiles(ctx context.Context, now time.Time, dry bool, act func(db *store.DB) error) (Change, error) {
	if dry {
		return Change{}, a.try(ctx, act)
	}
	return a.change(ctx, now, "", func() error { return act(a.db) })
}

// Merge makes two customers, or two boats, one.
func (a *App) Merge(ctx context.Context, now time.Time, actor, kind, kept, gone string) (Change, error) {
	return a.change(ctx, now, "", func() error { return duplicates.Merge(ctx, a.db, now, actor, kind, kept, gone) })
}

// Unmerge takes a merge back.
func (a *App) Unmerge(ctx context.Context, now time.Time, actor, kind, gone string) (Change, error) {
	return a.change(ctx, now, "", func() error { return duplicates.Unmerge(ctx, a.db, now, actor, kind, gone) })
}

// MergeAgreeing merges all pairs that agree, in one step; see
// [duplicates.MergeAgreeing].
func (a *App) MergeAgreeing(ctx context.Context, now time.Time, actor string) (done []duplicates.Merged, step int64, c Change, err error) {
	c, err = a.change(ctx, now, "", func() (err error) {
		done, step, err = duplicates.MergeAgreeing(ctx, a.db, now, actor)
		return err
	})
	return done, step, c, err
}

// UnmergeStep takes back what was merged in one step, and returns how many merges
// that were.
func (a *App) UnmergeStep(ctx context.Context, now time.Time, actor string, step int64) (n int, c Change, err error) {
	c, err = a.change(ctx, now, "", func() (err error) {
		n, err = duplicates.UnmergeStep(ctx, a.db, now, actor, step)
		return err
	})
	return n, c, err
}

// TellApart says that two are no duplicates, or with together that this was a
// mistake.
func (a *App) TellApart(ctx context.Context, now time.Time, actor, kind, one, other string, together bool) error {
	return duplicates.SetNotDuplicates(ctx, a.db, duplicates.NotDuplicate{Kind: kind, A: one, B: other, At: now, Actor: actor}, together)
}

// EraseCustomer removes a person; what was done and paid stays with the boat.
func (a *App) EraseCustomer(ctx context.Context, now time.Time, actor, id string) (e duplicates.Erasure, c Change, err error) {
	c, err = a.change(ctx, now, "", func() (err error) {
		e, err = duplicates.EraseCustomer(ctx, a.db, now, actor, id, a.Day(now))
		return err
	})
	return e, c, err
}

// SetPlaceClimate keeps what a weather file says for a place.
func (a *App) SetPlaceClimate(ctx context.Context, now time.Time, actor string, pc freeze.Climate) (Change, error) {
	return a.change(ctx, now, "", func() error { return freeze.SetClimate(ctx, a.db, now, actor, pc) })
}

// RemovePlaceClimate forgets what was loaded for a place.
func (a *App) RemovePlaceClimate(ctx context.Context, now time.Time, actor, place string) (Change, error) {
	return a.change(ctx, now, "", func() error { return freeze.RemoveClimate(ctx, a.db, now, actor, place) })
}

// What concerns no plan.

// RevokeFeed makes a calendar's address stop working; the next one stands in its
// place. With a customer's go the addresses of their page, which the calendars of
// their boats name: emails that wait with the old link are withdrawn, and the new
// one goes to the address on file at once.
func (a *App) RevokeFeed(ctx context.Context, now time.Time, actor string, scope link.Scope, subject string) error {
	generation, err := a.db.RevokeFeed(ctx, now, actor, string(scope), subject)
	if err != nil || scope != link.ScopeCustomer {
		return err
	}
	boats, err := a.DB.BoatsOf(ctx, subject)
	ids := make([]string, len(boats))
	for i := range boats {
		ids[i] = boats[i].ID
	}
	if err != nil {
		return err
	}
	if err := a.Publish(ctx, now, a.Day(now), ids); err != nil {
		return err
	}
	return a.paid(ctx, store.Owed{Step: schedule.StepNewLink, CustomerID: subject}, a.tellNewLink(ctx, now, subject, generation))
}

// tellNewLink queues the email with a customer's new link, and what must not wait
// of that which was withdrawn because it named the old one.
func (a *App) tellNewLink(ctx context.Context, now time.Time, customerID string, generation int) error {
	st, err := outbox.Sending(ctx, a.DB)
	if err != nil || !st.On {
		return err
	}
	r, err := a.Recipient(ctx, customerID)
	if err != nil {
		return err
	}
	due, err := a.atOnce(ctx, &r, now)
	if err != nil {
		return err
	}
	if n, ok := notify.NewLink(r, generation, a.Policy(), now); ok {
		due = append(due, n)
	}
	_, err = a.queue(ctx, now, due)
	return err
}

// NewLinkSent is the day on which the customer's present link was emailed after it
// replaced another; none if it was not.
func (a *App) NewLinkSent(ctx context.Context, customerID string) (civil.Day, error) {
	st, err := a.DB.FeedState(ctx, store.FeedCustomer, customerID)
	if err != nil {
		return 0, err
	}
	r, err := a.Recipient(ctx, customerID)
	for _, known := range r.Notified {
		if known.Step == schedule.StepNewLink && known.Subject == notify.NewLinkSubject(customerID, st.Generation) {
			return known.On, nil
		}
	}
	return 0, err
}

// Requeue sends a held, refused or uncertain message after all.
func (a *App) Requeue(ctx context.Context, now time.Time, actor string, id int64) error {
	return outbox.Requeue(ctx, a.db, now, actor, id)
}

// Release lets a held or paused queue go on.
func (a *App) Release(ctx context.Context, now time.Time, actor string) error {
	return outbox.Release(ctx, a.db, now, actor)
}

// JudgeRefused takes the desk's word on the addresses that the mail server
// refused: they do not exist, or it was the server's fault.
func (a *App) JudgeRefused(ctx context.Context, now time.Time, actor string, dead bool) error {
	return outbox.JudgeDoubted(ctx, a.db, now, actor, dead)
}

// RecordPast puts on file what happened before the shop kept its book here: what
// customers were sent, calls with their moments, and assignments to the comparison
// group.
func (a *App) RecordPast(ctx context.Context, now time.Time, actor string, notified []schedule.Notified, calls []store.Call, draws []schedule.Holdout) error {
	if err := outbox.RecordNotified(ctx, a.db, now, actor, notified); err != nil {
		return err
	}
	for _, c := range calls {
		if err := a.db.LogCall(ctx, c.At, c); err != nil {
			return err
		}
	}
	return outbox.SaveHoldouts(ctx, a.db, draws)
}

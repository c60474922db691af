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
func (h *App) Book(ctx context.Context, now time.Time, actor string, b schedule.Booking, was *string, sure bool) (Change, error) {
	doubts, err := h.doubtBooking(ctx, now, &b)
	if err != nil {
		return Change{}, err
	}
	return h.change(ctx, now, b.BoatID, func() error {
		return h.sure(ctx, now, actor, b.BoatID, doubts, sure, func() error {
			return h.db.Book(ctx, now, actor, b, was, h.hoursFit(b.Over))
		})
	})
}

// Unbook takes a booking back; its visit is penciled in again. was is as for
// [App.Book], why as for [store.DB.Unbook].
func (h *App) Unbook(ctx context.Context, now time.Time, actor, boatID, visitID string, was *string, why *schedule.CalledOff) (Change, error) {
	return h.change(ctx, now, boatID, func() error { return h.db.Unbook(ctx, now, actor, visitID, was, why) })
}

// Pin pencils a visit into the week that the desk chose; week 0 leaves it to the
// planner again.
func (h *App) Pin(ctx context.Context, now time.Time, actor, boatID, visitID string, week civil.Week) (Change, error) {
	return h.change(ctx, now, boatID, func() error { return h.db.Pin(ctx, now, actor, visitID, week) })
}

// Record writes down what was done to a boat, and gives the records and
// follow-ups of w their ids. form is as with [store.DB.RecordWork]. An entry that is
// doubted is a [*Doubtful] unless sure says that it is right.
func (h *App) Record(ctx context.Context, now time.Time, actor, form string, w *store.Work, sure bool) (Change, error) {
	doubts, err := h.doubtWork(ctx, w)
	if err != nil {
		return Change{}, err
	}
	for i := range w.FollowUps {
		completeFollowUp(&w.FollowUps[i])
	}
	return h.change(ctx, now, w.BoatID, func() error {
		return h.sure(ctx, now, actor, w.BoatID, doubts, sure, func() error { return h.db.RecordWork(ctx, now, actor, form, *w) })
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

// RemoveFollowUp drops a follow-up that is no longer wanted.
func (h *App) RemoveFollowUp(ctx context.Context, now time.Time, actor, boatID, id string) (Change, error) {
	return h.change(ctx, now, boatID, func() error { return h.db.RemoveFollowUp(ctx, now, actor, boatID, id) })
}

// SetOverride changes a rule for one boat or one component.
func (h *App) SetOverride(ctx context.Context, now time.Time, actor string, o schedule.Override) (Change, error) {
	return h.change(ctx, now, o.BoatID, func() error { return h.db.SetOverride(ctx, now, actor, o) })
}

// RemoveOverride puts a rule back to what the catalog says.
func (h *App) RemoveOverride(ctx context.Context, now time.Time, actor string, o schedule.Override) (Change, error) {
	return h.change(ctx, now, o.BoatID, func() error {
		return h.db.RemoveOverride(ctx, now, actor, o.BoatID, o.ComponentID, o.Rule)
	})
}

// SetWinterWork notes whether a boat's owner agrees that what is done cold is done
// in the winter, while the boat is in our storage.
func (h *App) SetWinterWork(ctx context.Context, now time.Time, actor, boatID string, agrees bool) (Change, error) {
	return h.change(ctx, now, boatID, func() error { return h.db.SetWinterWork(ctx, now, actor, boatID, agrees) })
}

// NoteCall writes down a call and what came of it. A note about a visit stands on
// its work sheet too.
func (h *App) NoteCall(ctx context.Context, now time.Time, c store.Call) (Change, error) {
	return h.change(ctx, now, c.BoatID, func() error {
		if err := h.db.LogCall(ctx, now, c); err != nil || c.Note == "" || c.VisitID == "" {
			return err
		}
		return h.db.AddSaid(ctx, now, store.Said{Actor: c.Actor, BoatID: c.BoatID, VisitID: c.VisitID, Words: c.Note})
	})
}

// SeeToReply writes down that somebody of the shop has seen to a reply.
func (h *App) SeeToReply(ctx context.Context, now time.Time, actor string, id int64) error {
	return h.db.SeeToAnswer(ctx, now, actor, id)
}

// WishCall puts a customer on the call list.
func (h *App) WishCall(ctx context.Context, w report.RingWish) error {
	return report.WishRing(ctx, h.db, w.At, w)
}

// AddAbsence gives a technician days off.
func (h *App) AddAbsence(ctx context.Context, now time.Time, actor string, a store.Absence) (Change, error) {
	return h.changeHours(ctx, now, func() error { return h.db.AddAbsence(ctx, now, actor, a) })
}

// RemoveAbsence takes days off back.
func (h *App) RemoveAbsence(ctx context.Context, now time.Time, actor string, id int64) (Change, error) {
	return h.changeHours(ctx, now, func() error { return h.db.RemoveAbsence(ctx, now, actor, id) })
}

// CloseDay closes the shop on a day.
func (h *App) CloseDay(ctx context.Context, now time.Time, actor string, d store.ClosedDay) (Change, error) {
	return h.changeHours(ctx, now, func() error { return h.db.CloseDay(ctx, now, actor, d) })
}

// OpenDay opens the shop again on a day that was closed.
func (h *App) OpenDay(ctx context.Context, now time.Time, actor string, d civil.Day) (Change, error) {
	return h.changeHours(ctx, now, func() error { return h.db.OpenDay(ctx, now, actor, d) })
}

// changeHours has act change the shop's hours. Those are no fact of a boat, so
// no plan is made anew, and all weeks are.
func (h *App) changeHours(ctx context.Context, now time.Time, act func() error) (Change, error) {
	today := h.Day(now)
	if _, err := h.Settle(ctx, now, today, nil); err != nil {
		return Change{}, err
	}
	if err := act(); err != nil {
		return Change{}, err
	}
	h.settling.Lock()
	defer h.settling.Unlock()
	p, err := h.pencilAll(ctx, today)
	if err != nil {
		return Change{}, err
	}
	done, err := h.publishPencilled(ctx, now, today, Planned{}, p)
	return Change{Planned: done}, err
}

// What concerns many boats.

// Intake takes in files, or with opts.DryRun says what they would do.
func (h *App) Intake(ctx context.Context, now time.Time, files []imports.File, opts imports.IntakeOptions) (r imports.Report, c Change, err error) {
	c, err = h.importFiles(ctx, now, opts.DryRun, func(db *store.DB) (err error) {
		r, err = imports.Intake(ctx, db, now, files, h.Known(), opts)
		return err
	})
	return r, c, err
}

// IntakeMapped takes in a shop's own tables through a mapping, or with
// opts.DryRun says what they would do.
func (h *App) IntakeMapped(ctx context.Context, now time.Time, books []*sheet.Book, m *mapping.Mapping, opts imports.MappedOptions) (r imports.MappedReport, c Change, err error) {
	c, err = h.importFiles(ctx, now, opts.DryRun, func(db *store.DB) (err error) {
		r, err = imports.IntakeMapped(ctx, db, now, books, m, h.Known(), opts)
		return err
	})
	return r, c, err
}

// ProposeOptions are what a mapping is drafted with: the shop's places, the services
// that its rules know, and the country of its phone numbers.
func (h *App) ProposeOptions(today civil.Day) mapping.ProposeOptions {
	o := mapping.ProposeOptions{Today: today, Places: h.Config.PlaceNames(), Region: h.Config.PhoneRegion()}
	catalogue := h.Planner.Catalogue()
	for _, code := range catalogue.ServiceCodes() {
		o.Services = append(o.Services, mapping.Service{Code: code, Title: catalogue.ServiceTitle(code)})
	}
	return o
}

// importFiles changes the shop, or with dry a copy of it.
func (h *App) importFiles(ctx context.Context, now time.Time, dry bool, act func(db *store.DB) error) (Change, error) {
	if dry {
		return Change{}, h.try(ctx, act)
	}
	return h.change(ctx, now, "", func() error { return act(h.db) })
}

// Merge makes two customers, or two boats, one.
func (h *App) Merge(ctx context.Context, now time.Time, actor, kind, kept, gone string) (Change, error) {
	return h.change(ctx, now, "", func() error { return duplicates.Merge(ctx, h.db, now, actor, kind, kept, gone) })
}

// Unmerge takes a merge back.
func (h *App) Unmerge(ctx context.Context, now time.Time, actor, kind, gone string) (Change, error) {
	return h.change(ctx, now, "", func() error { return duplicates.Unmerge(ctx, h.db, now, actor, kind, gone) })
}

// MergeAgreeing merges all pairs that agree, in one step; see
// [duplicates.MergeAgreeing].
func (h *App) MergeAgreeing(ctx context.Context, now time.Time, actor string) (done []duplicates.Merged, step int64, c Change, err error) {
	c, err = h.change(ctx, now, "", func() (err error) {
		done, step, err = duplicates.MergeAgreeing(ctx, h.db, now, actor)
		return err
	})
	return done, step, c, err
}

// UnmergeStep takes back what was merged in one step, and returns how many merges
// that were.
func (h *App) UnmergeStep(ctx context.Context, now time.Time, actor string, step int64) (n int, c Change, err error) {
	c, err = h.change(ctx, now, "", func() (err error) {
		n, err = duplicates.UnmergeStep(ctx, h.db, now, actor, step)
		return err
	})
	return n, c, err
}

// TellApart says that two are no duplicates, or with together that this was a
// mistake.
func (h *App) TellApart(ctx context.Context, now time.Time, actor, kind, a, b string, together bool) error {
	return duplicates.SetNotDuplicates(ctx, h.db, duplicates.NotDuplicate{Kind: kind, A: a, B: b, At: now, Actor: actor}, together)
}

// EraseCustomer removes a person; what was done and paid stays with the boat.
func (h *App) EraseCustomer(ctx context.Context, now time.Time, actor, id string) (e duplicates.Erasure, c Change, err error) {
	c, err = h.change(ctx, now, "", func() (err error) {
		e, err = duplicates.EraseCustomer(ctx, h.db, now, actor, id, h.Day(now))
		return err
	})
	return e, c, err
}

// SetPlaceClimate keeps what a weather file says for a place.
func (h *App) SetPlaceClimate(ctx context.Context, now time.Time, actor string, pc store.PlaceClimate) (Change, error) {
	return h.change(ctx, now, "", func() error { return h.db.SetPlaceClimate(ctx, now, actor, pc) })
}

// RemovePlaceClimate forgets what was loaded for a place.
func (h *App) RemovePlaceClimate(ctx context.Context, now time.Time, actor, place string) (Change, error) {
	return h.change(ctx, now, "", func() error { return h.db.RemovePlaceClimate(ctx, now, actor, place) })
}

// What concerns no plan.

// RevokeFeed makes a calendar's address stop working; the next one stands in its
// place. With a customer's go the addresses of their page, which the calendars of
// their boats name: emails that wait with the old link are withdrawn, and the new
// one goes to the address on file at once.
func (h *App) RevokeFeed(ctx context.Context, now time.Time, actor string, scope link.Scope, subject string) error {
	generation, err := h.db.RevokeFeed(ctx, now, actor, string(scope), subject)
	if err != nil || scope != link.ScopeCustomer {
		return err
	}
	boats, err := h.DB.BoatsOf(ctx, subject)
	ids := make([]string, len(boats))
	for i := range boats {
		ids[i] = boats[i].ID
	}
	if err != nil {
		return err
	}
	if err := h.Publish(ctx, now, h.Day(now), ids); err != nil {
		return err
	}
	return h.tellNewLink(ctx, now, subject, generation)
}

// tellNewLink queues the email with a customer's new link, and what must not wait
// of that which was withdrawn because it named the old one.
func (h *App) tellNewLink(ctx context.Context, now time.Time, customerID string, generation int) error {
	st, err := outbox.Sending(ctx, h.DB)
	if err != nil || !st.On {
		return err
	}
	r, err := h.Recipient(ctx, customerID)
	if err != nil {
		return err
	}
	due := slices.DeleteFunc(notify.Decide(r, h.Policy(), now), func(n notify.Notice) bool { return !n.AtOnce })
	if n, ok := notify.NewLink(r, generation, h.Policy(), now); ok {
		due = append(due, n)
	}
	_, err = h.queue(ctx, now, due)
	return err
}

// NewLinkSent is the day on which the customer's present link was emailed after it
// replaced another; none if it was not.
func (h *App) NewLinkSent(ctx context.Context, customerID string) (civil.Day, error) {
	st, err := h.DB.FeedState(ctx, store.FeedCustomer, customerID)
	if err != nil {
		return 0, err
	}
	r, err := h.Recipient(ctx, customerID)
	for _, known := range r.Notified {
		if known.Step == schedule.StepNewLink && known.Subject == notify.NewLinkSubject(customerID, st.Generation) {
			return known.On, nil
		}
	}
	return 0, err
}

// Requeue sends a held, refused or uncertain message after all.
func (h *App) Requeue(ctx context.Context, now time.Time, actor string, id int64) error {
	return outbox.Requeue(ctx, h.db, now, actor, id)
}

// Release lets a held or paused queue go on.
func (h *App) Release(ctx context.Context, now time.Time, actor string) error {
	return outbox.Release(ctx, h.db, now, actor)
}

// JudgeRefused takes the desk's word on the addresses that the mail server
// refused: they do not exist, or it was the server's fault.
func (h *App) JudgeRefused(ctx context.Context, now time.Time, actor string, dead bool) error {
	return outbox.JudgeDoubted(ctx, h.db, now, actor, dead)
}

// RecordPast puts on file what happened before the shop kept its book here: what
// customers heard, calls with their moments, and assignments to the comparison
// group.
func (h *App) RecordPast(ctx context.Context, now time.Time, actor string, heard []schedule.Notified, calls []store.Call, draws []schedule.Holdout) error {
	if err := outbox.RecordNotified(ctx, h.db, now, actor, heard); err != nil {
		return err
	}
	for _, c := range calls {
		if err := h.db.LogCall(ctx, c.At, c); err != nil {
			return err
		}
	}
	return outbox.SaveHoldouts(ctx, h.db, draws)
}

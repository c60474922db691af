package app

import (
	"context"
	"errors"
	"time"

	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/store"
)

// ErrNoRoom says that a day that a customer wants is none that can be taken.
var ErrNoRoom = errors.New("that day cannot be taken; choose another")

// WeekAfter is the first week with room for a visit, in time, that can still be
// booked with the shop's notice by a customer who is asked again on a day; none if
// there is none.
func (h *App) WeekAfter(v *schedule.Visit, weeks []civil.Week, day civil.Day) civil.Week {
	p := h.Policy()
	for _, w := range weeks {
		if last := min(w.Sunday(), v.Deadline); w.Monday() <= v.Deadline && p.Window.WorkingDaysBefore(last, p.Notice(v)) >= day {
			return w
		}
	}
	return 0
}

// keepWeek keeps such a week for a visit whose customer wishes to be asked again.
func (h *App) keepWeek(ctx context.Context, now time.Time, a *schedule.Answer) error {
	plan, err := h.DB.Plan(ctx, a.BoatID)
	if err != nil {
		return err
	}
	for i := range plan.Visits {
		v := &plan.Visits[i]
		if v.ID != a.VisitID || v.Booked() {
			continue
		}
		weeks, err := h.WeeksFor(ctx, v, h.Day(now))
		if err != nil {
			return err
		}
		if v.Week != 0 { // the one that it has, if that will do
			weeks = append([]civil.Week{v.Week}, weeks...)
		}
		if w := h.WeekAfter(v, weeks, a.Until); w != 0 {
			return h.db.Pin(ctx, now, customerActs, v.ID, w)
		}
	}
	return nil
}

// Take books a day that a customer takes for visits that come together, minute being
// that of the day at which the boats come, -1 for the whole day: all of them or none.
// a holds what the answers have in common, was the booking that each visit had. It
// returns a [*FullWeek], a [*FullDay] or a [*TakenHour] if somebody else was faster, a
// [*ShortNotice] for a day that comes too soon, [ErrNoRoom] for one that was never
// offered, [store.ErrStale] if a visit is no longer booked as it was.
func (h *App) Take(ctx context.Context, now time.Time, a schedule.Answer, visits []*schedule.Visit, day civil.Day, minute int, was []string) (taken []schedule.Answer, err error) {
	hours := make([][]int, len(visits))
	for i, v := range visits {
		if hours[i], err = h.dropOffHours(ctx, v); err != nil {
			return nil, err
		}
	}
	fits, err := h.customerFits(ctx, visits, h.Day(now), minute)
	if err != nil {
		return nil, err
	}
	all := make([]store.NewAnswer, len(visits))
	for i, v := range visits {
		b := schedule.Booking{VisitID: v.ID, BoatID: v.BoatID, Kind: v.Kind, Day: day, Minute: minute}
		if len(hours[i]) == 0 { // the boat is here
			b.Minute = -1
		}
		all[i] = store.NewAnswer{Answer: a, Booking: &b, Fit: fits[i]}
		all[i].Kind, all[i].BoatID, all[i].VisitID = schedule.AnswerTake, v.BoatID, v.ID
		if was != nil {
			all[i].Was = &was[i]
		}
	}
	// They are one customer's, so one of the boats has the news of all told.
	_, err = h.change(ctx, now, visits[0].BoatID, func() (err error) {
		taken, err = h.db.SaveAnswers(ctx, now, customerActs, all)
		return err
	})
	return taken, err
}

// customerActs is the name under which the customers' own doing stands in the
// audit log, beside the customer's id.
const customerActs = "customer"

// Reply writes down what a customer answered, and does what follows.
func (h *App) Reply(ctx context.Context, now time.Time, n store.NewAnswer) (a schedule.Answer, err error) {
	_, err = h.change(ctx, now, n.BoatID, func() (err error) {
		if a, err = h.db.SaveAnswer(ctx, now, customerActs, n); err == nil && a.Kind == schedule.AnswerLater {
			err = h.keepWeek(ctx, now, &a)
		}
		return err
	})
	return a, err
}

// UndoReply undoes an answer of a customer, and what followed from it.
func (h *App) UndoReply(ctx context.Context, now time.Time, customerID string, id int64) (a schedule.Answer, err error) {
	was, err := h.DB.Answer(ctx, now, h.Day(now), customerID, id)
	if err != nil {
		return a, err
	}
	_, err = h.change(ctx, now, was.BoatID, func() (err error) {
		a, err = h.db.UndoAnswer(ctx, now, h.Day(now), customerActs, customerID, id, h.hoursFit(false))
		if err == nil && a.Kind == schedule.AnswerLater {
			// A visit that is gone or booked meanwhile keeps no week by hand.
			if err = h.db.Pin(ctx, now, customerActs, a.VisitID, 0); errors.Is(err, store.ErrNotFound) || errors.Is(err, store.ErrStale) {
				err = nil
			}
		}
		return err
	})
	return a, err
}

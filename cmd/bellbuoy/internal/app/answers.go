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
func (a *App) WeekAfter(v *schedule.Visit, weeks []civil.Week, day civil.Day) civil.Week {
	p := a.Policy()
	for _, w := range weeks {
		if last := min(w.Sunday(), v.Deadline); w.Monday() <= v.Deadline && p.Window.WorkingDaysBefore(last, p.Notice(v)) >= day {
			return w
		}
	}
	return 0
}

// keepWeek keeps such a week, or the last one in time, for a visit whose customer wishes to
// be asked again.
func (a *App) keepWeek(ctx context.Context, now time.Time, answer *schedule.Answer) error {
	plan, err := a.DB.Plan(ctx, answer.BoatID)
	if err != nil {
		return err
	}
	for i := range plan.Visits {
		v := &plan.Visits[i]
		if v.ID != answer.VisitID || v.Booked() {
			continue
		}
		weeks, err := a.WeeksFor(ctx, v, a.Day(now))
		if err != nil {
			return err
		}
		if v.Week != 0 { // the one that it has, if that will do
			weeks = append([]civil.Week{v.Week}, weeks...)
		}
		w := a.WeekAfter(v, weeks, answer.Until)
		if w == 0 { // too late to be booked then: as near to that day as it can be in time
			if w, err = a.lastWeek(ctx, v, a.Day(now)); err != nil {
				return err
			}
		}
		if w != 0 {
			return a.db.PinLater(ctx, now, customerActs, v.ID, w)
		}
	}
	return nil
}

// Take books a day that a customer takes for visits that come together, minute being
// that of the day at which the boats come, -1 for the whole day: all of them or none.
// answer holds what the answers have in common, was the booking that each visit had. It
// returns a [*FullWeek], a [*FullDay] or a [*TakenHour] if somebody else was faster, a
// [*ShortNotice] for a day that comes too soon, [ErrNoRoom] for one that was never
// offered, [store.ErrStale] if a visit is no longer booked as it was.
func (a *App) Take(ctx context.Context, now time.Time, answer schedule.Answer, visits []*schedule.Visit, day civil.Day, minute int, was []string) (taken []schedule.Answer, err error) {
	hours := make([][]int, len(visits))
	for i, v := range visits {
		if hours[i], err = a.dropOffHours(ctx, v); err != nil {
			return nil, err
		}
	}
	fits, err := a.customerFits(ctx, visits, a.Day(now), minute)
	if err != nil {
		return nil, err
	}
	all := make([]store.NewAnswer, len(visits))
	for i, v := range visits {
		b := schedule.Booking{VisitID: v.ID, BoatID: v.BoatID, Kind: v.Kind, Day: day, Minute: minute}
		if len(hours[i]) == 0 { // the boat is here
			b.Minute = -1
		}
		all[i] = store.NewAnswer{Answer: answer, Booking: &b, Fit: fits[i]}
		all[i].Kind, all[i].BoatID, all[i].VisitID = schedule.AnswerTake, v.BoatID, v.ID
		if was != nil {
			all[i].Was = &was[i]
		}
	}
	// They are one customer's, so one of the boats has the news of all told.
	_, err = a.change(ctx, now, visits[0].BoatID, func() (err error) {
		taken, err = a.db.SaveAnswers(ctx, now, customerActs, all)
		return err
	})
	return taken, err
}

// customerActs is the name under which the customers' own doing stands in the
// audit log, beside the customer's id.
const customerActs = "customer"

// Reply writes down what a customer answered, and does what follows.
func (a *App) Reply(ctx context.Context, now time.Time, n store.NewAnswer) (answer schedule.Answer, err error) {
	_, err = a.change(ctx, now, n.BoatID, func() (err error) {
		if answer, err = a.db.SaveAnswer(ctx, now, customerActs, n); err == nil && answer.Kind == schedule.AnswerLater {
			err = a.keepWeek(ctx, now, &answer)
		}
		return err
	})
	return answer, err
}

// UndoReply undoes an answer of a customer, and what followed from it.
func (a *App) UndoReply(ctx context.Context, now time.Time, customerID string, id int64) (answer schedule.Answer, err error) {
	was, err := a.DB.Answer(ctx, now, a.Day(now), customerID, id)
	if err != nil {
		return answer, err
	}
	_, err = a.change(ctx, now, was.BoatID, func() (err error) {
		answer, err = a.db.UndoAnswer(ctx, now, a.Day(now), customerActs, customerID, id, a.hoursFit(false))
		if err == nil && answer.Kind == schedule.AnswerLater {
			// A visit that is gone or booked meanwhile keeps no week by hand.
			if err = a.db.PinLater(ctx, now, customerActs, answer.VisitID, 0); errors.Is(err, store.ErrNotFound) || errors.Is(err, store.ErrStale) {
				err = nil
			}
		}
		return err
	})
	return answer, err
}

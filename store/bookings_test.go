package store_test

import (
	"errors"
	"testing"

	"bellbuoy/schedule"
	"bellbuoy/store"
)

// TestNothingIsDecidedOnABookingThatChanged: what was decided on a booking that
// is another by now changes nothing.
func TestNothingIsDecidedOnABookingThatChanged(t *testing.T) {
	seen := "2027-05-04"
	answered := func(kind schedule.AnswerKind, fill func(*store.NewAnswer)) func(db *store.DB) error {
		return func(db *store.DB) error {
			n := store.NewAnswer{Answer: answer(kind, visitID), Was: &seen}
			if fill != nil {
				fill(&n)
			}
			_, err := db.SaveAnswer(t.Context(), noon, "customer", n)
			return err
		}
	}
	for name, decide := range map[string]func(db *store.DB) error{
		"book": func(db *store.DB) error {
			return db.Book(t.Context(), noon, "desk", *booked(t, "2027-05-06"), &seen, nil)
		},
		"unbook": func(db *store.DB) error { return db.Unbook(t.Context(), noon, "desk", visitID, &seen, nil) },
		"pin": func(db *store.DB) error {
			return db.Pin(t.Context(), noon, "desk", visitID, day(t, "2027-05-10").Week())
		},
		"take":    answered(schedule.AnswerTake, func(n *store.NewAnswer) { n.Booking = booked(t, "2027-05-06") }),
		"cancel":  answered(schedule.AnswerCancel, nil),
		"decline": answered(schedule.AnswerDecline, nil),
		"later":   answered(schedule.AnswerLater, func(n *store.NewAnswer) { n.Until = day(t, "2027-04-01") }),
		"elsewhere": answered(schedule.AnswerElsewhere, func(n *store.NewAnswer) {
			n.CallOff = true
			n.Records = []schedule.Record{{Service: "engine-oil", ComponentID: "E1", Day: day(t, "2026-11-20")}}
		}),
	} {
		t.Run(name, func(t *testing.T) {
			db := answering(t)
			if err := db.Book(t.Context(), noon, "desk", *booked(t, "2027-05-05"), nil, nil); err != nil {
				t.Fatal(err)
			}
			before := rowsDigest(t, db.Path())
			if err := decide(db); !errors.Is(err, store.ErrStale) {
				t.Errorf("%v, want ErrStale", err)
			}
			if rowsDigest(t, db.Path()) != before {
				t.Error("something was written all the same")
			}
		})
	}
}

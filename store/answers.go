package store

import (
	"cmp"
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"time"

	"bellbuoy/schedule"
	"bellbuoy/store/internal/kernel"
	"bellbuoy/store/internal/tables"
)

// NewAnswer is what a customer answers together with what it changes. The
// answer's ID, At and Seen are the store's to fill in.
type NewAnswer struct {
	schedule.Answer
	Booking *schedule.Booking // take: the day taken
	Fit     Fit               // take: whether it can be taken
	// Was is the booking of the visit that the customer saw, as
	// [schedule.Booking.When] gives it, nil for any.
	Was      *string
	Records  []schedule.Record  // elsewhere: the work that was done
	Readings []schedule.Reading // hours, elsewhere: what the meters showed
	CallOff  bool               // elsewhere: a booked day of the visit is off
	Mails    MailChoice         // mails: what is chosen
}

// MailChoice is which mails a customer wants no more.
type MailChoice struct {
	NoReminders bool // none except about booked visits
	NoMail      bool // none at all
}

// AnswerEffect is what an answer changed: for the desk to read, and so that it can
// be taken back and nobody takes back what the shop did since.
type AnswerEffect struct {
	Was       *schedule.Booking  `json:"was,omitempty"`
	Is        *schedule.Booking  `json:"is,omitempty"`
	Records   []schedule.Record  `json:"records,omitempty"`
	Readings  []schedule.Reading `json:"readings,omitempty"`
	MailsWas  *MailChoice        `json:"mails_was,omitempty"`
	MailsAre  *MailChoice        `json:"mails_are,omitempty"`
	VisitNote int64              `json:"said,omitempty"` // row of the words for the technician
	// Against is a booking that the answer speaks against: the desk decides.
	Against *schedule.Booking `json:"against,omitempty"`
}

// SaveAnswer writes an answer down and does what it says, in one transaction.
// [ErrNotFound] if the boat is not the customer's or the visit is no longer
// planned, [ErrRefused] if what it says contradicts what is known, [ErrStale] if
// the visit is booked otherwise than the customer saw. The same
// answer given twice counts once; the one on file is returned.
func (db *DB) SaveAnswer(ctx context.Context, now time.Time, actor string, n NewAnswer) (schedule.Answer, error) {
	var saved schedule.Answer
	err := db.Tx(ctx, func(tx *sql.Tx) (err error) {
		saved, err = saveAnswer(ctx, tx, now, actor, &n)
		return err
	})
	if errors.Is(err, errRepliedBefore) {
		err = nil
	}
	return saved, kernel.Wrap(err, "answer %q of customer %q", n.Kind, n.CustomerID)
}

// SaveAnswers does the same with answers that belong together: all are taken, or none.
func (db *DB) SaveAnswers(ctx context.Context, now time.Time, actor string, all []NewAnswer) ([]schedule.Answer, error) {
	saved := make([]schedule.Answer, len(all))
	err := db.Tx(ctx, func(tx *sql.Tx) (err error) {
		for i := range all {
			saved[i], err = saveAnswer(ctx, tx, now, actor, &all[i])
			if err != nil && !errors.Is(err, errRepliedBefore) {
				return fmt.Errorf("visit %q: %w", all[i].VisitID, err)
			}
		}
		return nil
	})
	return saved, kernel.Wrap(err, "%d answers at once", len(all))
}

// saveAnswer returns errRepliedBefore, with the answer on file, for one that changes
// nothing.
func saveAnswer(ctx context.Context, tx *sql.Tx, now time.Time, actor string, n *NewAnswer) (schedule.Answer, error) {
	none := schedule.Answer{}
	if err := checkAnswer(ctx, tx, n); err != nil {
		return none, err
	}
	if known, err := sameAnswer(ctx, tx, n); err != nil || known.ID != 0 {
		return known, err
	}
	// What the desk booked as the customer now asks for is no change.
	if n.Kind != schedule.AnswerTake || stillAs(ctx, tx, n.VisitID, new(n.Booking.When())) != nil {
		if err := stillAs(ctx, tx, n.VisitID, n.Was); err != nil {
			return none, err
		}
	}
	effect, err := applyAnswer(ctx, tx, now, actor, n)
	if err != nil {
		return none, err
	}
	if effect.none(n.Kind) {
		if saved, err := newestAnswer(ctx, tx, n); err != nil || saved.ID != 0 {
			return saved, cmp.Or(err, errRepliedBefore)
		}
	}
	return insertAnswer(ctx, tx, now, actor, n, effect)
}

// checkAnswer refuses an answer about what is not the customer's to answer for.
func checkAnswer(ctx context.Context, q kernel.Querier, n *NewAnswer) error {
	if _, err := tables.Customer(ctx, q, n.CustomerID); err != nil {
		return err
	}
	if n.BoatID != "" {
		_, err := kernel.One(ctx, q, kernel.FirstInt,
			"SELECT 1 FROM ownerships WHERE boat_id = ? AND customer_id = ? AND to_day IS NULL", n.BoatID, n.CustomerID)
		if err != nil {
			return kernel.Wrap(err, "boat %q among theirs", n.BoatID)
		}
	}
	if n.VisitID != "" {
		_, err := kernel.One(ctx, q, kernel.FirstInt,
			"SELECT 1 FROM visits WHERE boat_id = ?1 AND id = ?2 UNION ALL SELECT 1 FROM bookings WHERE boat_id = ?1 AND visit_id = ?2", n.BoatID, n.VisitID)
		if err != nil {
			return kernel.Wrap(err, "visit %q", n.VisitID)
		}
	}
	return checkAnswerKind(n)
}

// checkAnswerKind refuses an answer that lacks what its kind needs.
func checkAnswerKind(n *NewAnswer) error {
	ok := true
	switch n.Kind {
	case schedule.AnswerTake:
		ok = n.VisitID != "" && n.Booking != nil && n.Booking.VisitID == n.VisitID && n.Booking.BoatID == n.BoatID
	case schedule.AnswerCancel, schedule.AnswerDecline:
		ok = n.VisitID != ""
	case schedule.AnswerLater:
		ok = n.VisitID != "" && n.Until != 0
	case schedule.AnswerElsewhere:
		ok = n.BoatID != "" && len(n.Records) > 0
	case schedule.AnswerHours:
		ok = n.BoatID != "" && len(n.Readings) > 0
	case schedule.AnswerSold:
		ok = n.BoatID != ""
	case schedule.AnswerCall, schedule.AnswerMails:
	default:
		return fmt.Errorf("there is no such answer: %w", ErrRefused)
	}
	if !ok {
		return fmt.Errorf("it does not say what it is about: %w", ErrRefused)
	}
	return nil
}

// errRepliedBefore rolls back what an answer did over that changed nothing.
var errRepliedBefore = errors.New("said before")

// none reports whether an answer of a kind that changes facts changed none.
func (e *AnswerEffect) none(kind schedule.AnswerKind) bool {
	switch kind {
	case schedule.AnswerTake:
		return e.Was != nil && e.Is != nil && e.Was.When() == e.Is.When()
	case schedule.AnswerHours, schedule.AnswerElsewhere:
		return len(e.Records)+len(e.Readings) == 0 && e.Was == nil
	case schedule.AnswerMails:
		return *e.MailsWas == *e.MailsAre
	}
	return false
}

// newestAnswer is the customer's last answer that stands, if it is of this kind,
// about the same and in the same words; a zero one otherwise.
func newestAnswer(ctx context.Context, q kernel.Querier, n *NewAnswer) (schedule.Answer, error) {
	a, err := kernel.One(ctx, q, readAnswer, "SELECT "+answerColumns+` FROM answers a
		WHERE a.customer_id = ? AND a.boat_id = ? AND a.visit_id = ? AND a.undone_at IS NULL ORDER BY a.id DESC LIMIT 1`, n.CustomerID, n.BoatID, n.VisitID)
	if known, err := kernel.Found(err); err != nil || !known || a.Kind != n.Kind || a.Note != n.Note {
		return schedule.Answer{}, err
	}
	return a, nil
}

// sameAnswer finds a standing answer that already says the same, so that a
// button pressed twice does one thing. A zero answer means there is none.
func sameAnswer(ctx context.Context, q kernel.Querier, n *NewAnswer) (schedule.Answer, error) {
	switch n.Kind {
	case schedule.AnswerCancel:
		if b, err := bookingOrNone(ctx, q, n.VisitID); err != nil || b != nil {
			return schedule.Answer{}, err
		}
		return newestAnswer(ctx, q, n)
	case schedule.AnswerSold, schedule.AnswerCall, schedule.AnswerDecline, schedule.AnswerLater:
	default:
		return schedule.Answer{}, nil
	}
	standing, err := standingAnswers(ctx, q, []string{n.CustomerID})
	if err != nil {
		return schedule.Answer{}, err
	}
	for _, a := range standing {
		if a.Kind == n.Kind && a.BoatID == n.BoatID && a.VisitID == n.VisitID && a.Note == n.Note && a.Until == n.Until && !a.Seen {
			return a, nil
		}
	}
	return schedule.Answer{}, nil
}

// replan has a boat planned again whose owner replied: a visit that he declined keeps
// no hours, and a boat that he speaks of has not lapsed.
func replan(ctx context.Context, tx kernel.Querier, a *schedule.Answer) error {
	if a.BoatID == "" {
		return nil
	}
	return kernel.MarkDirty(ctx, tx, a.BoatID)
}

func insertAnswer(ctx context.Context, tx kernel.Querier, now time.Time, actor string, n *NewAnswer, effect AnswerEffect) (schedule.Answer, error) {
	changed, err := json.Marshal(effect)
	if err != nil {
		return schedule.Answer{}, err
	}
	a := n.Answer
	a.At, a.Seen = time.Unix(now.Unix(), 0).UTC(), false
	if a.Kind == schedule.AnswerTake {
		a.Booked = effect.Is.When()
	}
	a.ID, err = kernel.One(ctx, tx, kernel.FirstInt,
		`INSERT INTO answers (customer_id, boat_id, visit_id, kind, at, note, until_day, changed) VALUES (?, ?, ?, ?, ?, ?, ?, ?) RETURNING id`,
		a.CustomerID, a.BoatID, a.VisitID, string(a.Kind), now.Unix(), a.Note, kernel.DayArg(a.Until), string(changed))
	if err != nil {
		return a, err
	}
	if err := replan(ctx, tx, &a); err != nil {
		return a, err
	}
	return a, kernel.Audit(ctx, tx, now, kernel.Entry{Actor: actor, What: "reply", BoatID: a.BoatID, CustomerID: a.CustomerID, After: a})
}

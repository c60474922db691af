package outbox

import (
	"context"
	"slices"
	"strings"
	"time"

	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/store"
	"bellbuoy/store/internal/kernel"
)

const invitationColumns = "uid, customer_id, address, day, starts, ends, visits, sequence, stamp, cancelled"

func readInvitation(c *kernel.Row) schedule.Invitation {
	return schedule.Invitation{
		UID: c.Text(0), CustomerID: c.Text(1), Address: c.Text(2), Day: c.Day(3), Start: c.Instant(4), End: c.Instant(5),
		Visits: c.Lines(6), Sequence: int(c.Int(7)), Stamp: c.Instant(8), Cancelled: c.Bool(9),
	}
}

func putInvitation(ctx context.Context, q kernel.Querier, letter int64, v *schedule.Invitation) error {
	_, err := q.ExecContext(ctx, "INSERT INTO invitations (letter_id, "+invitationColumns+") VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
		letter, v.UID, v.CustomerID, strings.ToLower(v.Address), v.Day.String(), v.Start.Unix(), v.End.Unix(),
		kernel.JoinLines(v.Visits), v.Sequence, v.Stamp.Unix(), kernel.BoolArg(v.Cancelled))
	return err
}

// Invitations returns the appointments that a customer's calendar may hold, in the order
// in which they were first told: each as the newest email about it had it that was
// not taken back. Sequence and Stamp are the highest that were ever used for it.
func Invitations(ctx context.Context, db *store.Reader, customerID string) ([]schedule.Invitation, error) {
	type told struct {
		schedule.Invitation
		reached bool
	}
	all, err := kernel.Collect(ctx, db.Read, func(c *kernel.Row) told { return told{readInvitation(c), c.Bool(10)} },
		"SELECT "+invitationColumns+", (SELECT o.state FROM outbox o WHERE o.id = letter_id) NOT IN ('withdrawn', 'expired', 'refused') FROM invitations WHERE customer_id = ? ORDER BY letter_id",
		customerID)
	if err != nil {
		return nil, kernel.Wrap(err, "invitations of customer %q", customerID)
	}
	var live []schedule.Invitation
	highest := map[string]schedule.Invitation{}
	for _, t := range all {
		h := highest[t.UID]
		h.Sequence, h.Stamp = max(h.Sequence, t.Sequence), later(h.Stamp, t.Stamp)
		highest[t.UID] = h
		if !t.reached {
			continue
		}
		if i := slices.IndexFunc(live, func(v schedule.Invitation) bool { return v.UID == t.UID }); i >= 0 {
			live[i] = t.Invitation
		} else {
			live = append(live, t.Invitation)
		}
	}
	live = slices.DeleteFunc(live, func(v schedule.Invitation) bool { return v.Cancelled })
	for i := range live {
		live[i].Sequence, live[i].Stamp = highest[live[i].UID].Sequence, highest[live[i].UID].Stamp
	}
	return live, nil
}

// InvitedElsewhere lists whose appointments on a day or later went out by email at another
// address than that on file, in order.
func InvitedElsewhere(ctx context.Context, db *store.Reader, from civil.Day) ([]string, error) {
	ids, err := kernel.Collect(ctx, db.Read, kernel.FirstText, `SELECT DISTINCT i.customer_id FROM invitations i JOIN customers c ON c.id = i.customer_id
		WHERE i.day >= ? AND i.address <> '' AND i.address <> lower(c.email) ORDER BY i.customer_id`, from.String())
	return ids, kernel.Wrap(err, "list whose appointments went to another address")
}

// Invited returns the newest invitation of a uid that went to an address.
// [store.ErrNotFound] if none did.
func Invited(ctx context.Context, db *store.Reader, uid, address string) (v schedule.Invitation, letter int64, err error) {
	v, err = kernel.One(ctx, db.Read, func(c *kernel.Row) schedule.Invitation {
		letter = c.Int(10)
		return readInvitation(c)
	}, "SELECT "+invitationColumns+", letter_id FROM invitations WHERE uid = ? AND address = ? ORDER BY letter_id DESC LIMIT 1", uid, strings.ToLower(address))
	return v, letter, kernel.Wrap(err, "invitation %q", uid)
}

// later is the later of two moments.
func later(a, b time.Time) time.Time {
	if b.After(a) {
		return b
	}
	return a
}

// LastFetch is the last day on which a calendar program asked for a calendar that
// holds a customer's visits: theirs, or that of one of the boats. None if none did.
func LastFetch(ctx context.Context, db *store.Reader, customerID string, boats []string) (civil.Day, error) {
	subjects := append([]string{store.FeedCustomer + " " + customerID}, boats...)
	for i := range boats {
		subjects[i+1] = store.FeedBoat + " " + boats[i]
	}
	last := civil.Day(0)
	for _, s := range subjects {
		scope, subject, _ := strings.Cut(s, " ")
		days, err := kernel.Collect(ctx, db.Read, func(c *kernel.Row) civil.Day { return c.Day(0) },
			"SELECT day FROM feed_fetches WHERE scope = ? AND subject = ?", scope, subject)
		if err != nil {
			return 0, kernel.Wrap(err, "last fetch of a calendar")
		}
		for _, d := range days {
			last = max(last, d)
		}
	}
	return last, nil
}

package duplicates

import (
	"context"
	"fmt"
	"maps"
	"slices"
	"time"

	"bellbuoy/schedule"
	"bellbuoy/store"
	"bellbuoy/store/internal/kernel"
	"bellbuoy/store/internal/tables"
)

// Fillable are the fields of a customer that a merge fills where they are
// empty, by name.
func Fillable(c *schedule.Customer) map[string]*string {
	return map[string]*string{
		"email": &c.Email, "phone": &c.Phone, "address": &c.Address, "city": &c.City, "region": &c.Region, "postal_code": &c.PostalCode,
		"language": &c.Language,
	}
}

// mergeCustomer makes everything of one customer another's.
func mergeCustomer(ctx context.Context, tx kernel.Querier, now time.Time, kept, gone string, m *mergeUndo) error {
	k, err := tables.Customer(ctx, tx, kept)
	if err != nil {
		return err
	}
	g, err := tables.Customer(ctx, tx, gone)
	if err != nil {
		return err
	}
	theirs := Fillable(&g)
	mine := Fillable(&k)
	for _, f := range slices.Sorted(maps.Keys(mine)) {
		if *mine[f] == "" && *theirs[f] != "" {
			*mine[f] = *theirs[f]
			m.Filled = append(m.Filled, f)
		}
	}
	if _, err := tables.PutCustomer(ctx, tx, k); err != nil {
		return err
	}
	if err := passOwnership(ctx, tx, gone, kept, m); err != nil {
		return err
	}
	if err := passNotified(ctx, tx, gone, kept, m); err != nil {
		return err
	}
	if err := passOptOut(ctx, tx, gone, kept, now, m); err != nil {
		return err
	}
	// The old address is told by the next turn, if it is another one than the kept's.
	for _, table := range []string{"calls", "answers", "draws", "invitations", "owed"} {
		ids, err := kernel.Collect(ctx, tx, func(c *kernel.Row) string { return fmt.Sprint(c.Int(0)) },
			"UPDATE "+table+" SET customer_id = ? WHERE customer_id = ? RETURNING rowid", kept, gone)
		if err != nil {
			return fmt.Errorf("%s: %w", table, err)
		}
		m.Rows[table] = ids
	}
	if err := moveTransfers(ctx, tx, "customer_id", kept, gone, m); err != nil {
		return err
	}
	return touchCustomers(ctx, tx, now, m.Owned, kept, gone)
}

// touchCustomers has feeds and plans looked at again.
func touchCustomers(ctx context.Context, tx kernel.Querier, now time.Time, boats []string, customers ...string) error {
	for _, c := range customers {
		if err := store.TouchFeed(ctx, tx, now, store.FeedCustomer, c); err != nil {
			return err
		}
	}
	return kernel.MarkDirty(ctx, tx, boats...)
}

// passOwnership gives one customer's times with all boats to another. It is the
// same person, so that no calendar is withdrawn and nothing told is forgotten.
func passOwnership(ctx context.Context, tx kernel.Querier, from, to string, m *mergeUndo) error {
	boats, err := kernel.Collect(ctx, tx, kernel.FirstText,
		"SELECT DISTINCT boat_id FROM ownerships WHERE customer_id = ? ORDER BY boat_id", from)
	if err != nil {
		return err
	}
	m.Owned = boats
	for _, b := range boats {
		known, err := tables.Ownerships(ctx, tx, b)
		if err != nil {
			return err
		}
		for i := range known {
			if known[i].Customer == from {
				m.Owners = append(m.Owners, [3]string{b, known[i].From.String(), known[i].To.String()})
				known[i].Customer = to
			}
		}
		if err := tables.ReplaceOwnerships(ctx, tx, b, known); err != nil {
			return err
		}
	}
	return nil
}

// passNotified lets one customer have heard what another has, so that no step is
// sent twice. The letters themselves stay where they went.
func passNotified(ctx context.Context, tx kernel.Querier, from, to string, m *mergeUndo) error {
	rows, err := kernel.Collect(ctx, tx, func(c *kernel.Row) [3]string { return [3]string{c.Text(0), c.Text(1), c.Text(2)} },
		`INSERT INTO heard (customer_id, subject, step, on_day, week, letter_id) SELECT ?, subject, step, on_day, week, letter_id FROM heard
		WHERE customer_id = ? ON CONFLICT DO NOTHING RETURNING subject, step, on_day`, to, from)
	m.Notified = rows
	return kernel.Wrap(err, "what was heard")
}

// optOutOf returns what a customer wants no more, and whether they ever said.
func optOutOf(ctx context.Context, q kernel.Querier, id string) (out [2]bool, said bool, err error) {
	out, err = kernel.One(ctx, q, func(c *kernel.Row) [2]bool { return [2]bool{c.Bool(0), c.Bool(1)} },
		"SELECT no_reminders, no_mail FROM opt_outs WHERE customer_id = ?", id)
	said, err = kernel.Found(err)
	return out, said, err
}

// passOptOut makes whatever either of two wants no more hold for both.
func passOptOut(ctx context.Context, tx kernel.Querier, from, to string, now time.Time, m *mergeUndo) error {
	theirs, _, err := optOutOf(ctx, tx, from)
	if err != nil {
		return err
	}
	mine, said, err := optOutOf(ctx, tx, to)
	if err != nil {
		return err
	}
	both := [2]bool{mine[0] || theirs[0], mine[1] || theirs[1]}
	if both == mine {
		return nil
	}
	m.OptOut, m.HadOptOut = &mine, said
	return store.SetOptOut(ctx, tx, now, "merge", to, both[0], both[1])
}

// unmergeCustomer takes a merge of customers back.
func unmergeCustomer(ctx context.Context, tx kernel.Querier, now time.Time, kept, gone string, m *mergeUndo) error {
	if err := emptyFilled(ctx, tx, kept, gone, m.Filled); err != nil {
		return err
	}
	for _, o := range m.Owners {
		if err := returnOwnership(ctx, tx, kept, gone, o); err != nil {
			return err
		}
	}
	for _, h := range m.Notified {
		if _, err := tx.ExecContext(ctx, "DELETE FROM heard WHERE customer_id = ? AND subject = ? AND step = ? AND on_day = ?",
			kept, h[0], h[1], h[2]); err != nil {
			return err
		}
	}
	if m.OptOut != nil && !m.HadOptOut {
		if _, err := tx.ExecContext(ctx, "DELETE FROM opt_outs WHERE customer_id = ?", kept); err != nil {
			return err
		}
	} else if m.OptOut != nil {
		if err := store.SetOptOut(ctx, tx, now, "merge taken back", kept, m.OptOut[0], m.OptOut[1]); err != nil {
			return err
		}
	}
	for _, table := range slices.Sorted(maps.Keys(m.Rows)) {
		for _, id := range m.Rows[table] {
			if _, err := tx.ExecContext(ctx, "UPDATE "+table+" SET customer_id = ? WHERE rowid = CAST(? AS INTEGER) AND customer_id = ?", gone, id, kept); err != nil {
				return err
			}
		}
	}
	if err := returnTransfers(ctx, tx, "customer_id", kept, gone, m); err != nil {
		return err
	}
	// What was told since of an appointment goes back with it.
	if _, err := tx.ExecContext(ctx, `UPDATE invitations SET customer_id = ?1 WHERE customer_id = ?2
		AND uid IN (SELECT uid FROM invitations WHERE customer_id = ?1)`, gone, kept); err != nil {
		return err
	}
	return touchCustomers(ctx, tx, now, m.Owned, kept, gone)
}

// emptyFilled empties the fields that the merge filled, unless they have been
// changed since.
func emptyFilled(ctx context.Context, tx kernel.Querier, kept, gone string, filled []string) error {
	k, err := tables.Customer(ctx, tx, kept)
	if err != nil {
		return err
	}
	g, err := tables.Customer(ctx, tx, gone)
	if err != nil {
		return err
	}
	mine, theirs := Fillable(&k), Fillable(&g)
	for _, f := range filled {
		if mine[f] != nil && *mine[f] == *theirs[f] {
			*mine[f] = ""
		}
	}
	_, err = tables.PutCustomer(ctx, tx, k)
	return err
}

// returnOwnership gives one time with a boat back, if it is still there as the
// merge left it or has only ended since.
func returnOwnership(ctx context.Context, tx kernel.Querier, kept, gone string, o [3]string) error {
	known, err := tables.Ownerships(ctx, tx, o[0])
	if err != nil {
		return err
	}
	from, err := dayOrNone(o[1])
	if err != nil {
		return err
	}
	i := slices.IndexFunc(known, func(k tables.Ownership) bool { return k.Customer == kept && k.From == from })
	if i < 0 {
		return fmt.Errorf("boat %q has changed owners since; correct its owners by hand: %w", o[0], store.ErrRefused)
	}
	known[i].Customer = gone
	return tables.ReplaceOwnerships(ctx, tx, o[0], known)
}

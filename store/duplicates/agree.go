package duplicates

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"slices"
	"time"

	"bellbuoy/schedule"
	"bellbuoy/schedule/hin"
	"bellbuoy/store"
	"bellbuoy/store/internal/kernel"
	"bellbuoy/store/internal/match"
	"bellbuoy/store/internal/tables"
)

// agree reports whether two customers of one name share a way to reach them too.
func agree(why []string) bool {
	return slices.Contains(why, sameName) && slices.ContainsFunc(why, func(w string) bool { return w == sameEmail || w == samePhone || w == sameStreet })
}

// MergeAgreeing merges, in one step, all pairs of customers that agree, their boats
// of one make and name, and all pairs of boats that agree; see [Pair.Agree]. It
// returns the merges and the step by which [UnmergeStep] takes them back, 0 if
// there was nothing to merge. A pair that cannot be merged stays a pair.
func MergeAgreeing(ctx context.Context, db *store.DB, now time.Time, actor string) (done []Merged, step int64, err error) {
	err = db.Tx(ctx, func(tx *sql.Tx) error {
		b := &batch{ctx: ctx, tx: tx, now: now, actor: actor}
		for _, kind := range []string{KindCustomer, KindBoat} { // boats of one owner agree once the owners are one
			all, err := find(ctx, tx)
			if err != nil {
				return err
			}
			into := map[string]string{}
			for _, p := range all {
				if p.Kind != kind || !p.Agree {
					continue
				}
				if err := b.mergePair(kind, followed(into, p.A), followed(into, p.B), into); err != nil {
					return err
				}
			}
		}
		done, step = b.done, b.step
		return nil
	})
	return done, step, kernel.Wrap(err, "merge what agrees")
}

// followed is what an id was merged into.
func followed(into map[string]string, id string) string {
	for into[id] != "" {
		id = into[id]
	}
	return id
}

// batch are merges that are made together.
type batch struct {
	ctx   context.Context
	tx    *sql.Tx
	now   time.Time
	actor string
	step  int64 // the first of them
	done  []Merged
}

// mergePair merges two, into the one of which more is known.
func (b *batch) mergePair(kind, one, other string, into map[string]string) error {
	if one == other {
		return nil
	}
	weight := "SELECT count(*) FROM ownerships WHERE customer_id = ?"
	if kind == KindBoat {
		weight = "SELECT (SELECT count(*) FROM records WHERE boat_id = ?1) + 1000000 * (SELECT count(*) FROM bookings WHERE boat_id = ?1)"
	}
	var known [2]int64
	for i, id := range []string{one, other} {
		var err error
		if known[i], err = kernel.One(b.ctx, b.tx, kernel.FirstInt, weight, id); err != nil {
			return err
		}
	}
	kept, gone := one, other
	if known[1] > known[0] {
		kept, gone = other, one
	}
	merged, err := b.try(kind, kept, gone, 0)
	if merged {
		into[gone] = kept
	}
	return err
}

// try merges two, and with customers their boats of one make and name. A refusal
// leaves them as they are.
func (b *batch) try(kind, kept, gone string, by int64) (merged bool, err error) {
	if _, err := b.tx.ExecContext(b.ctx, "SAVEPOINT pair"); err != nil {
		return false, err
	}
	id, err := mergeOne(b.ctx, b.tx, b.now, b.actor, Merged{Kind: kind, Kept: kept, Gone: gone}, &mergeUndo{Step: b.step, By: by})
	if errors.Is(err, store.ErrRefused) {
		_, err = b.tx.ExecContext(b.ctx, "ROLLBACK TO pair")
	} else if merged = err == nil; merged {
		_, err = b.tx.ExecContext(b.ctx, "RELEASE pair")
	}
	if err != nil || !merged {
		return false, err
	}
	if b.step == 0 {
		b.step = id
		if _, err := b.tx.ExecContext(b.ctx, "UPDATE merges SET changed = json_set(changed, '$.step', ?1) WHERE id = ?1", id); err != nil {
			return false, err
		}
	}
	b.done = append(b.done, Merged{Kind: kind, Kept: kept, Gone: gone, At: b.now, Actor: b.actor, Step: b.step})
	if kind == KindCustomer {
		err = b.mergeTheirBoats(kept, id)
	}
	return true, err
}

// mergeTheirBoats merges the boats of one owner that bear one make and name, unless
// the numbers of any of these differ: one without a number may then be either.
func (b *batch) mergeTheirBoats(owner string, by int64) error {
	boats, err := kernel.Collect(b.ctx, b.tx, tables.ReadBoat, "SELECT "+kernel.Column("b", tables.BoatColumns)+
		` FROM ownerships o JOIN boats b ON b.id = o.boat_id WHERE o.customer_id = ? AND o.to_day IS NULL
		AND b.id NOT IN (SELECT gone FROM merges WHERE kind = 'boat' AND undone_at IS NULL) ORDER BY b.id`, owner)
	if err != nil {
		return err
	}
	registrations, err := registrations(b.ctx, b.tx)
	if err != nil {
		return err
	}
	into := map[string]string{}
	for i, x := range boats {
		for _, y := range boats[i+1:] {
			differs := func(z schedule.Boat) bool {
				return alike(x, z) && (numbersDiffer(x, z, registrations) || numbersDiffer(y, z, registrations))
			}
			if !alike(x, y) || into[x.ID] != "" || into[y.ID] != "" || slices.ContainsFunc(boats, differs) {
				continue
			}
			kept, gone := x.ID, y.ID
			if booked, err := kernel.Exists(b.ctx, b.tx, "SELECT 1 FROM bookings WHERE boat_id = ?", gone); err != nil {
				return err
			} else if booked {
				kept, gone = gone, kept
			}
			merged, err := b.try(KindBoat, kept, gone, by)
			if err != nil {
				return err
			}
			if merged {
				into[gone] = kept
			}
		}
	}
	return nil
}

// alike reports whether two boats bear one make and name.
func alike(x, y schedule.Boat) bool {
	maker, name := match.Letters(x.Make), match.Letters(x.Name)
	return maker != "" && name != "" && maker == match.Letters(y.Make) && name == match.Letters(y.Name)
}

// UnmergeStep takes back all merges that were made together, or none.
func UnmergeStep(ctx context.Context, db *store.DB, now time.Time, actor string, step int64) (n int, err error) {
	err = db.Tx(ctx, func(tx *sql.Tx) error {
		n, err = unmergeAll(ctx, tx, now, actor, "$.step", step)
		if err == nil && n == 0 {
			return fmt.Errorf("no merges of step %d hold: %w", step, store.ErrNotFound)
		}
		return err
	})
	return n, kernel.Wrap(err, "take back what was merged together")
}

// unmergeAll takes back the merges that a field of their undo record names, the
// latest first.
func unmergeAll(ctx context.Context, tx *sql.Tx, now time.Time, actor, field string, value int64) (int, error) {
	all, err := kernel.Collect(ctx, tx, func(c *kernel.Row) [2]string { return [2]string{c.Text(0), c.Text(1)} },
		"SELECT kind, gone FROM merges WHERE undone_at IS NULL AND json_extract(changed, ?) = ? ORDER BY id DESC", field, value)
	if err != nil {
		return 0, err
	}
	for _, m := range all {
		if err := unmergeOne(ctx, tx, now, actor, m[0], m[1]); err != nil {
			return 0, err
		}
	}
	return len(all), nil
}

// numbersDiffer reports whether two boats' hull numbers or registrations are known
// and not one.
func numbersDiffer(x, y schedule.Boat, registrations map[string]string) bool {
	differ := func(a, b string) bool { return a != "" && b != "" && a != b }
	return differ(hin.Plain(x.HIN), hin.Plain(y.HIN)) || differ(match.PlainRegistration(registrations[x.ID]), match.PlainRegistration(registrations[y.ID]))
}

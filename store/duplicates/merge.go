package duplicates

import (
	"context"
	"database/sql"
	"encoding/json"
	"fmt"
	"time"

	"bellbuoy/store"
	"bellbuoy/store/internal/kernel"
)

// Merged is one merge that still holds.
type Merged struct {
	Kind  string    `json:"kind"`
	Kept  string    `json:"kept"`
	Gone  string    `json:"gone"`
	At    time.Time `json:"at"`
	Actor string    `json:"actor"`
	Step  int64     `json:"step,omitempty"` // what was merged together bears one; see [UnmergeStep]
}

// Merges lists the merges that still hold, the latest first.
func Merges(ctx context.Context, db *store.Reader) ([]Merged, error) {
	all, err := kernel.Collect(ctx, db.Read, func(c *kernel.Row) Merged {
		return Merged{Kind: c.Text(0), Kept: c.Text(1), Gone: c.Text(2), At: c.Instant(3), Actor: c.Text(4), Step: c.Int(5)}
	}, "SELECT kind, kept, gone, at, actor, coalesce(json_extract(changed, '$.step'), 0) FROM merges WHERE undone_at IS NULL ORDER BY id DESC")
	return all, kernel.Wrap(err, "list merges")
}

// mergeUndo is what a merge did, for taking it back. It names rows and fields and
// repeats nothing personal.
type mergeUndo struct {
	Filled     []string            `json:"filled,omitempty"`  // fields of the kept that were empty
	Rows       map[string][]string `json:"rows,omitempty"`    // of tables with a number for a key
	Owned      []string            `json:"owned,omitempty"`   // boats whose owner changed
	Notified   [][3]string         `json:"heard,omitempty"`   // copied for the kept: subject, step, day
	OptOut     *[2]bool            `json:"opt_out,omitempty"` // the kept's before, if it changed
	HadOptOut  bool                `json:"had_opt_out,omitempty"`
	Parts      map[string]string   `json:"parts,omitempty"` // components of the gone, and whose place they took
	MovedParts []string            `json:"moved_parts,omitempty"`
	Records    [][4]string         `json:"records,omitempty"`    // day, id now, id before, component before
	Readings   [][4]string         `json:"readings,omitempty"`   // component now and before, day, hours
	Owners     [][3]string         `json:"owners,omitempty"`     // of the kept boat before: customer, from, to; of customers: boat, from, to
	OwnersNow  [][3]string         `json:"owners_now,omitempty"` // of the kept boat after
	Transfers  [][2]string         `json:"transfers,omitempty"`  // to and from sister shops: id, way
	Step       int64               `json:"step,omitempty"`       // the first of the merges that were made together
	By         int64               `json:"by,omitempty"`         // the merge of owners that this one of boats belongs to
}

// Merge makes two of a kind one: everything of gone becomes kept's, empty
// fields of kept are filled, and gone stays only as another name for kept, by
// which files may still call it. What either asked of the mails holds. The
// boats' calendars stay as they are; the pages and calendars that gone's own
// addresses open become empty. With customers, their boats of one make and name
// become one unless their numbers differ. [ErrRefused] if one was merged already,
// or where the two contradict each other.
func Merge(ctx context.Context, db *store.DB, now time.Time, actor, kind, kept, gone string) error {
	err := db.Tx(ctx, func(tx *sql.Tx) error {
		id, err := mergeOne(ctx, tx, now, actor, Merged{Kind: kind, Kept: kept, Gone: gone}, &mergeUndo{})
		if err != nil || kind != KindCustomer {
			return err
		}
		return (&batch{ctx: ctx, tx: tx, now: now, actor: actor}).mergeTheirBoats(kept, id)
	})
	return kernel.Wrap(err, "merge %s %q into %q", kind, gone, kept)
}

// mergeOne merges two and returns the id of the merge.
func mergeOne(ctx context.Context, tx *sql.Tx, now time.Time, actor string, two Merged, m *mergeUndo) (id int64, err error) {
	if err := checkMerge(ctx, tx, two.Kind, two.Kept, two.Gone); err != nil {
		return 0, err
	}
	m.Rows, m.Parts = map[string][]string{}, map[string]string{}
	if two.Kind == KindCustomer {
		err = mergeCustomer(ctx, tx, now, two.Kept, two.Gone, m)
	} else {
		err = mergeBoat(ctx, tx, now, two.Kept, two.Gone, m)
	}
	if err != nil {
		return 0, err
	}
	changed, err := json.Marshal(m)
	if err != nil {
		return 0, err
	}
	if id, err = kernel.One(ctx, tx, kernel.FirstInt, "INSERT INTO merges (kind, kept, gone, at, actor, changed) VALUES (?, ?, ?, ?, ?, ?) RETURNING id",
		two.Kind, two.Kept, two.Gone, now.Unix(), actor, string(changed)); err != nil {
		return 0, err
	}
	return id, kernel.Audit(ctx, tx, now, mergeEntry(actor, "merge", two.Kind, two.Kept, two.Gone))
}

// Unmerge takes a merge back, by the id that is gone, and that of the boats which
// it brought about. What was written down for the kept one since then stays with
// it.
func Unmerge(ctx context.Context, db *store.DB, now time.Time, actor, kind, gone string) error {
	err := db.Tx(ctx, func(tx *sql.Tx) error { return unmergeOne(ctx, tx, now, actor, kind, gone) })
	return kernel.Wrap(err, "take back the merge of %s %q", kind, gone)
}

func unmergeOne(ctx context.Context, tx *sql.Tx, now time.Time, actor, kind, gone string) error {
	const holds = "SELECT id, kept, changed FROM merges WHERE kind = ? AND gone = ? AND undone_at IS NULL"
	id, err := kernel.One(ctx, tx, kernel.FirstInt, holds, kind, gone)
	if err != nil {
		return err
	}
	row, err := kernel.One(ctx, tx, func(c *kernel.Row) [2]string { return [2]string{c.Text(1), c.Text(2)} }, holds, kind, gone)
	if err != nil {
		return err
	}
	later, err := kernel.Exists(ctx, tx, "SELECT 1 FROM merges WHERE kind = ? AND (kept = ?2 OR gone = ?2) AND id > ?3 AND undone_at IS NULL", kind, row[0], id)
	if err != nil {
		return err
	}
	if later {
		return fmt.Errorf("%q was merged again since; take the later merge back first: %w", row[0], store.ErrRefused)
	}
	if _, err := unmergeAll(ctx, tx, now, actor, "$.by", id); err != nil {
		return err
	}
	m := &mergeUndo{}
	if err := json.Unmarshal([]byte(row[1]), m); err != nil {
		return err
	}
	if kind == KindCustomer {
		err = unmergeCustomer(ctx, tx, now, row[0], gone, m)
	} else {
		err = unmergeBoat(ctx, tx, row[0], gone, m)
	}
	if err != nil {
		return err
	}
	if _, err := tx.ExecContext(ctx, "UPDATE merges SET undone_at = ? WHERE id = ?", now.Unix(), id); err != nil {
		return err
	}
	return kernel.Audit(ctx, tx, now, mergeEntry(actor, "take a merge back", kind, row[0], gone))
}

func mergeEntry(actor, what, kind, kept, gone string) kernel.Entry {
	e := kernel.Entry{Actor: actor, What: what, After: map[string]string{"kind": kind, "kept": kept, "gone": gone}}
	if kind == KindCustomer {
		e.CustomerID = kept
	} else {
		e.BoatID = kept
	}
	return e
}

// moveTransfers moves what is written down of ways to and from sister shops, by the
// column that names the customer or the boat.
func moveTransfers(ctx context.Context, tx kernel.Querier, column, kept, gone string, m *mergeUndo) (err error) {
	m.Transfers, err = kernel.Collect(ctx, tx, func(c *kernel.Row) [2]string { return [2]string{c.Text(0), c.Text(1)} },
		"UPDATE transfers SET "+column+" = ? WHERE "+column+" = ? RETURNING id, way", kept, gone)
	return kernel.Wrap(err, "transfers")
}

// returnTransfers gives them back.
func returnTransfers(ctx context.Context, tx kernel.Querier, column, kept, gone string, m *mergeUndo) error {
	for _, t := range m.Transfers {
		if _, err := tx.ExecContext(ctx, "UPDATE transfers SET "+column+" = ? WHERE id = ? AND way = ? AND "+column+" = ?", gone, t[0], t[1], kept); err != nil {
			return err
		}
	}
	return nil
}

// checkMerge refuses to merge what is not there, is the same, or was merged.
func checkMerge(ctx context.Context, q kernel.Querier, kind, kept, gone string) error {
	if kind != KindCustomer && kind != KindBoat {
		return fmt.Errorf("kind %q is neither %s nor %s: %w", kind, KindCustomer, KindBoat, store.ErrRefused)
	}
	if kept == gone {
		return fmt.Errorf("they are the same: %w", store.ErrRefused)
	}
	for _, id := range []string{kept, gone} {
		query := "SELECT 1 FROM customers WHERE id = ?"
		if kind == KindBoat {
			query = "SELECT 1 FROM boats WHERE id = ?"
		}
		known, err := kernel.Exists(ctx, q, query, id)
		if err != nil {
			return err
		}
		if !known {
			return fmt.Errorf("no %s %q: %w", kind, id, store.ErrNotFound)
		}
		merged, err := kernel.Exists(ctx, q, "SELECT 1 FROM merges WHERE kind = ? AND gone = ? AND undone_at IS NULL", kind, id)
		if err != nil {
			return err
		}
		if merged {
			return fmt.Errorf("%q was merged into another already: %w", id, store.ErrRefused)
		}
	}
	return nil
}

// refuseMerged keeps a person who stands in two rows from being erased in one:
// the other row would still hold them.
func refuseMerged(ctx context.Context, q kernel.Querier, customerID string) error {
	other, err := kernel.One(ctx, q, func(c *kernel.Row) [2]string { return [2]string{c.Text(0), c.Text(1)} },
		"SELECT kept, gone FROM merges WHERE kind = 'customer' AND (kept = ?1 OR gone = ?1) AND undone_at IS NULL", customerID)
	if merged, err := kernel.Found(err); err != nil || !merged {
		return err
	}
	return fmt.Errorf("%q was merged into %q; take that back (bellbuoy duplicates unmerge %s) and erase both: %w", other[1], other[0], other[1], store.ErrRefused)
}

// MergedNames maps ids that files may still use to those that they were merged
// into, under the name of the column that holds them: "boat_id B2" to "B1".
func MergedNames(ctx context.Context, q kernel.Querier) (map[string]string, error) {
	rows, err := kernel.Collect(ctx, q, func(c *kernel.Row) [4]string { return [4]string{c.Text(0), c.Text(1), c.Text(2), c.Text(3)} },
		"SELECT kind, kept, gone, changed FROM merges WHERE undone_at IS NULL ORDER BY id DESC")
	if err != nil {
		return nil, err
	}
	names := map[string]string{}
	add := func(column, gone, kept string) {
		if further, ok := names[column+" "+kept]; ok { // the kept one was merged later
			kept = further
		}
		names[column+" "+gone] = kept
	}
	for _, r := range rows {
		if r[0] == KindCustomer {
			add("customer_id", r[2], r[1])
			continue
		}
		add("boat_id", r[2], r[1])
		m := mergeUndo{}
		if err := json.Unmarshal([]byte(r[3]), &m); err != nil {
			return nil, err
		}
		for gone, kept := range m.Parts {
			add("component_id", gone, kept)
		}
	}
	return names, nil
}

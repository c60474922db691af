package store

import (
	"cmp"
	"context"
	"crypto/sha256"
	"database/sql"
	"fmt"
	"slices"
	"time"

	"bellbuoy/schedule"
	"bellbuoy/store/internal/kernel"
	"bellbuoy/store/internal/tables"
)

// NewPlan is what the planner worked out for one boat.
type NewPlan struct {
	BoatID string
	Plan   schedule.BoatPlan
	// Seen is [DB.FactsVersion] as it was before the facts were read. A boat
	// whose facts changed after it stays to be planned.
	Seen int64
}

// SavePlans replaces the plans of these boats in one transaction and takes the
// boats off the list to be planned. A plan that says what the stored one says
// is not written. It returns the ids of the boats whose plans changed, in the order
// given: their calendars may have to be written again.
//
// The week into which a visit is pencilled, and whether it was told, belong to
// [DB.SaveWeeks] and the outbox: those in the plans given are ignored, and
// the stored ones stay with the visit as long as the plan names its id.
func (db *DB) SavePlans(ctx context.Context, now time.Time, plans []NewPlan) (changed []string, err error) {
	err = db.Tx(ctx, func(tx *sql.Tx) error {
		p := db.Write.Prepared(tx)
		defer p.Close()
		changed = nil
		stored, err := planHashes(ctx, p, plans)
		if err != nil {
			return err
		}
		for i := range plans {
			n := &plans[i]
			hash := planHash(&n.Plan)
			if old, planned := stored[n.BoatID]; planned && old == hash {
				continue
			}
			if err := writePlan(ctx, p, now, n, hash[:]); err != nil {
				return fmt.Errorf("save the plan of boat %q: %w", n.BoatID, err)
			}
			stored[n.BoatID] = hash
			changed = append(changed, n.BoatID)
		}
		planned, err := clearDirty(ctx, p, plans)
		if err != nil {
			return err
		}
		return toPublish(ctx, p, slices.Concat(changed, planned))
	})
	return changed, err
}

// planHashes reads the hashes of the stored plans of these boats at once: one
// question for each would cost more than most plans.
func planHashes(ctx context.Context, q kernel.Querier, plans []NewPlan) (map[string][sha256.Size]byte, error) {
	ids := make([]string, len(plans))
	for i := range plans {
		ids[i] = plans[i].BoatID
	}
	stored := make(map[string][sha256.Size]byte, len(plans))
	_, err := kernel.Collect(ctx, q, func(c *kernel.Row) (none struct{}) {
		var hash [sha256.Size]byte
		copy(hash[:], c.Blob(1)) // one of another length is like none
		stored[c.Text(0)] = hash
		return none
	}, "SELECT boat_id, hash FROM plans WHERE boat_id IN (SELECT value FROM json_each(?))", kernel.IDList(ids))
	return stored, kernel.Wrap(err, "read what is planned")
}

// clearDirty takes boats off the list to be planned, but for those whose facts
// changed after they were read. It returns the ids of those taken off.
func clearDirty(ctx context.Context, q kernel.Querier, plans []NewPlan) (planned []string, err error) {
	seen := map[int64][]string{}
	for i := range plans {
		seen[plans[i].Seen] = append(seen[plans[i].Seen], plans[i].BoatID)
	}
	for version, ids := range seen {
		gone, err := kernel.Collect(ctx, q, kernel.FirstText, "DELETE FROM dirty WHERE boat_id IN (SELECT value FROM json_each(?)) AND version <= ? RETURNING boat_id", kernel.IDList(ids), version)
		if err != nil {
			return nil, fmt.Errorf("note what is planned: %w", err)
		}
		planned = append(planned, gone...)
	}
	return planned, nil
}

func writePlan(ctx context.Context, q kernel.Querier, now time.Time, n *NewPlan, hash []byte) error {
	_, err := q.ExecContext(ctx, `INSERT INTO plans (boat_id, hash, planned_at, problems) VALUES (?, ?, ?, ?)
		ON CONFLICT (boat_id) DO UPDATE SET hash = excluded.hash, planned_at = excluded.planned_at, problems = excluded.problems`,
		n.BoatID, hash, now.Unix(), kernel.JoinLines(n.Plan.Problems))
	if err != nil {
		return err
	}
	if err := writeItems(ctx, q, n.BoatID, n.Plan.Items); err != nil {
		return err
	}
	return writeVisits(ctx, q, n.BoatID, n.Plan.Visits)
}

// writeItems puts the items of a boat in the place of its earlier ones. A row
// that says the same stays untouched: after one change most do, and each that is
// written again costs a page of the table and one of each index.
func writeItems(ctx context.Context, q kernel.Querier, boatID string, items []schedule.DueItem) error {
	all, err := kernel.Collect(ctx, q, tables.ReadItem, "SELECT "+tables.ItemColumns+" FROM due_items WHERE boat_id = ?", boatID)
	if err != nil {
		return err
	}
	was := make(map[string]schedule.DueItem, len(all))
	for i := range all {
		was[all[i].Key()] = all[i]
	}
	var fresh []*schedule.DueItem
	for i := range items {
		key := items[i].Key()
		if old, ok := was[key]; ok && old == items[i] {
			delete(was, key)
			continue
		}
		fresh = append(fresh, &items[i])
	}
	for key := range was {
		if _, err := q.ExecContext(ctx, "DELETE FROM due_items WHERE boat_id = ? AND key = ?", boatID, key); err != nil {
			return fmt.Errorf("item %q: %w", key, err)
		}
	}
	for _, it := range fresh {
		if err := tables.InsertItem(ctx, q, boatID, it); err != nil {
			return fmt.Errorf("item %q: %w", it.Key(), err)
		}
	}
	return nil
}

// writeVisits puts the visits of a boat in the place of its earlier ones; the
// rows of visits that go on are updated, because their weeks stay, and those
// that say the same are left alone.
func writeVisits(ctx context.Context, q kernel.Querier, boatID string, visits []schedule.Visit) error {
	all, err := kernel.Collect(ctx, q, tables.ReadVisit, "SELECT "+tables.VisitColumns+" FROM visits WHERE boat_id = ?", boatID)
	if err != nil {
		return err
	}
	was := make(map[string]*schedule.Visit, len(all))
	for i := range all {
		was[all[i].ID] = &all[i]
	}
	for i := range visits {
		v := &visits[i]
		old := was[v.ID]
		delete(was, v.ID)
		if old != nil && sameVisit(old, v) {
			continue
		}
		if err := putVisit(ctx, q, boatID, v); err != nil {
			return fmt.Errorf("visit %q: %w", v.ID, err)
		}
	}
	for id := range was {
		if _, err := q.ExecContext(ctx, "DELETE FROM visits WHERE boat_id = ? AND id = ?", boatID, id); err != nil {
			return fmt.Errorf("visit %q: %w", id, err)
		}
	}
	return nil
}

// putVisit writes a visit. A new row learns from what its boat's owner has
// heard which week was told, in case the visit had left the plan meanwhile.
func putVisit(ctx context.Context, q kernel.Querier, boatID string, v *schedule.Visit) error {
	_, err := q.ExecContext(ctx, `INSERT INTO visits (boat_id, id, kind, season, open_day, close_day, day, deadline, labour, price, priority, items, last_day, lapsed, yard, lifts, told_week)
		VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, (SELECT h.week FROM heard h JOIN ownerships o ON o.customer_id = h.customer_id
			WHERE h.subject = ? AND h.week IS NOT NULL AND o.boat_id = ? AND o.to_day IS NULL ORDER BY h.on_day DESC LIMIT 1))
		ON CONFLICT (boat_id, id) DO UPDATE SET kind = excluded.kind, season = excluded.season, open_day = excluded.open_day,
		close_day = excluded.close_day, day = excluded.day, deadline = excluded.deadline, labour = excluded.labour,
		price = excluded.price, priority = excluded.priority, items = excluded.items, last_day = excluded.last_day, lapsed = excluded.lapsed,
		yard = excluded.yard, lifts = excluded.lifts`,
		boatID, v.ID, v.Kind, v.Season, kernel.DayArg(v.Open), kernel.DayArg(v.Close), kernel.DayArg(v.Day), kernel.DayArg(v.Deadline),
		v.Labour, int64(v.Price), v.Priority, kernel.JoinLines(v.Items), kernel.DayArg(v.Last), kernel.BoolArg(v.Lapsed), v.Yard, v.Lifts, v.ID, boatID)
	return err
}

// Plan returns the stored plan of one boat: items in order of due day and key,
// visits in order of day and id, with their weeks and bookings. A boat that has
// not been planned has an empty plan.
func (db *Reader) Plan(ctx context.Context, boatID string) (schedule.BoatPlan, error) {
	var p schedule.BoatPlan
	err := db.Snapshot(ctx, func(tx *sql.Tx) (err error) {
		q := db.Read.Prepared(tx)
		defer q.Close()
		p, err = readPlan(ctx, q, boatID)
		return err
	})
	if err != nil {
		return schedule.BoatPlan{}, fmt.Errorf("read the plan of boat %q: %w", boatID, err)
	}
	return p, nil
}

func readPlan(ctx context.Context, q kernel.Querier, boatID string) (p schedule.BoatPlan, err error) {
	p.Visits, err = kernel.Collect(ctx, q, tables.ReadVisit, "SELECT "+tables.VisitColumns+" FROM visits WHERE boat_id = ? ORDER BY day, id", boatID)
	if err != nil {
		return p, err
	}
	bookings, err := kernel.Collect(ctx, q, tables.ReadBooking, "SELECT "+tables.BookingColumns+" FROM bookings WHERE boat_id = ?", boatID)
	if err != nil {
		return p, err
	}
	attachBookings(p.Visits, bookings)
	return p, readItems(ctx, q, boatID, &p)
}

// readItems adds the items and what the planner could not do to a plan.
func readItems(ctx context.Context, q kernel.Querier, boatID string, p *schedule.BoatPlan) (err error) {
	p.Items, err = kernel.Collect(ctx, q, tables.ReadItem, "SELECT "+tables.ItemColumns+" FROM due_items WHERE boat_id = ? ORDER BY due, key", boatID)
	if err != nil {
		return err
	}
	p.Problems, err = kernel.One(ctx, q, func(c *kernel.Row) []string { return c.Lines(0) }, "SELECT problems FROM plans WHERE boat_id = ?", boatID)
	_, err = kernel.Found(err)
	return err
}

// Planned returns the facts and the stored plan of one boat, as [Reader.Facts] and
// [Reader.Plan] do, of one moment.
func (db *Reader) Planned(ctx context.Context, boatID string) (f schedule.Facts, p schedule.BoatPlan, err error) {
	err = db.Snapshot(ctx, func(tx *sql.Tx) error {
		q := db.Read.Prepared(tx)
		defer q.Close()
		if err := loadFacts(ctx, q, boatID, &f); err != nil {
			return err
		}
		p.Visits = slices.SortedFunc(slices.Values(f.Prior), func(a, b schedule.Visit) int {
			return cmp.Or(cmp.Compare(a.Day, b.Day), cmp.Compare(a.ID, b.ID))
		})
		return readItems(ctx, q, boatID, &p)
	})
	return f, p, kernel.Wrap(err, "read the facts and the plan of boat %q", boatID)
}

// Outline returns of a boat what [schedule.Planner.Outline] needs: the follow-ups and
// the stored plan, of one moment.
func (db *Reader) Outline(ctx context.Context, boatID string) (f []schedule.FollowUp, p schedule.BoatPlan, err error) {
	err = db.Snapshot(ctx, func(tx *sql.Tx) (err error) {
		q := db.Read.Prepared(tx)
		defer q.Close()
		f, err = kernel.Collect(ctx, q, tables.ReadFollowUp, "SELECT "+tables.FollowUpColumns+" FROM follow_ups WHERE boat_id = ?", boatID)
		if err != nil {
			return err
		}
		p, err = readPlan(ctx, q, boatID)
		return err
	})
	return f, p, kernel.Wrap(err, "read the plan of boat %q", boatID)
}

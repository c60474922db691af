package duplicates

import (
	"context"
	"fmt"
	"maps"
	"slices"
	"time"

	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/store"
	"bellbuoy/store/internal/kernel"
	"bellbuoy/store/internal/tables"
)

// mergeBoat makes everything of one boat another's: owners, work, readings and
// components. Where each has exactly one component of a kind, these two are
// taken for one. The boat that is gone leaves the shop's care.
func mergeBoat(ctx context.Context, tx kernel.Querier, now time.Time, kept, gone string, m *mergeUndo) error {
	// Readings point to boat and component together, and move after them.
	if _, err := tx.ExecContext(ctx, "PRAGMA defer_foreign_keys = ON"); err != nil {
		return err
	}
	booked, err := kernel.Exists(ctx, tx, "SELECT 1 FROM bookings WHERE boat_id = ?", gone)
	if err != nil {
		return err
	}
	if booked {
		return fmt.Errorf("boat %q has a booked visit; cancel it or merge the other way round: %w", gone, store.ErrRefused)
	}
	if err := mergeOwners(ctx, tx, kept, gone, m); err != nil {
		return err
	}
	if err := moveParts(ctx, tx, kept, gone, m); err != nil {
		return err
	}
	if err := moveRecords(ctx, tx, kept, gone, m); err != nil {
		return err
	}
	if err := moveReadings(ctx, tx, kept, gone, m); err != nil {
		return err
	}
	if err := moveTransfers(ctx, tx, "boat_id", kept, gone, m); err != nil {
		return err
	}
	if err := fillHull(ctx, tx, now, kept, gone, m); err != nil {
		return err
	}
	return kernel.MarkDirty(ctx, tx, kept, gone)
}

// mergeOwners lays the owners of two boats together.
func mergeOwners(ctx context.Context, tx kernel.Querier, kept, gone string, m *mergeUndo) error {
	mine, err := tables.Ownerships(ctx, tx, kept)
	if err != nil {
		return err
	}
	theirs, err := tables.Ownerships(ctx, tx, gone)
	if err != nil {
		return err
	}
	m.Owners = ownerTexts(mine)
	both, err := tables.MergeClaims(kept, mine, sameOwners(mine, tables.Unchain(theirs)))
	if err != nil {
		return fmt.Errorf("%w: %w", err, store.ErrRefused)
	}
	m.OwnersNow = ownerTexts(both.All)
	return tables.ReplaceOwnerships(ctx, tx, kept, both.All)
}

// sameOwners drops claims that say no more than the known ones do.
func sameOwners(known []tables.Ownership, claims []tables.Claim) (fresh []tables.Claim) {
	for _, c := range claims {
		same := false
		for _, o := range known {
			same = same || o.Customer == c.Customer && (c.From == 0 || o.From == c.From)
		}
		if !same {
			fresh = append(fresh, c)
		}
	}
	return fresh
}

// moveParts moves components, except those that are taken for one of the kept
// boat's.
func moveParts(ctx context.Context, tx kernel.Querier, kept, gone string, m *mergeUndo) error {
	m.Parts[gone] = kept // the hull
	read := func(boat string) (map[string][]schedule.Component, error) {
		all, err := kernel.Collect(ctx, tx, tables.ReadComponent, "SELECT "+tables.ComponentColumns+" FROM components WHERE boat_id = ? ORDER BY id", boat)
		by := map[string][]schedule.Component{}
		for _, p := range all {
			by[p.Kind] = append(by[p.Kind], p)
		}
		return by, err
	}
	mine, err := read(kept)
	if err != nil {
		return err
	}
	theirs, err := read(gone)
	if err != nil {
		return err
	}
	for _, kind := range slices.Sorted(maps.Keys(theirs)) {
		if len(theirs[kind]) == 1 && len(mine[kind]) == 1 {
			m.Parts[theirs[kind][0].ID] = mine[kind][0].ID
			continue
		}
		for _, p := range theirs[kind] {
			m.MovedParts = append(m.MovedParts, p.ID)
			if _, err := tx.ExecContext(ctx, "UPDATE components SET boat_id = ? WHERE id = ?", kept, p.ID); err != nil {
				return fmt.Errorf("component %q: %w", p.ID, err)
			}
		}
	}
	return nil
}

// moveRecords moves the work under the ids by which its files know it.
func moveRecords(ctx context.Context, tx kernel.Querier, kept, gone string, m *mergeUndo) error {
	all, err := kernel.Collect(ctx, tx, tables.ReadRecord, "SELECT "+tables.RecordColumns+" FROM records WHERE boat_id = ? ORDER BY day, id", gone)
	if err != nil {
		return err
	}
	for _, r := range all {
		was := r
		r.BoatID = kept
		if p, ok := m.Parts[r.ComponentID]; ok {
			r.ComponentID = p
		}
		for ordinal := 0; ; ordinal++ {
			taken, err := kernel.Exists(ctx, tx, "SELECT 1 FROM records WHERE boat_id = ? AND day = ? AND id = ?", kept, r.Day.String(), r.ID)
			if err != nil {
				return err
			}
			if !taken {
				break
			}
			r.ID = tables.RecordID(r, ordinal)
		}
		_, err := tx.ExecContext(ctx, "UPDATE records SET boat_id = ?, id = ?, component_id = ? WHERE boat_id = ? AND day = ? AND id = ?",
			kept, r.ID, r.ComponentID, gone, r.Day.String(), was.ID)
		if err != nil {
			return fmt.Errorf("record of %s: %w", r.Day, err)
		}
		m.Records = append(m.Records, [4]string{r.Day.String(), r.ID, was.ID, was.ComponentID})
	}
	return nil
}

// moveReadings moves what meters showed. A reading that both have stays with
// the boat that is gone; meters that would run backwards are refused.
func moveReadings(ctx context.Context, tx kernel.Querier, kept, gone string, m *mergeUndo) error {
	all, err := kernel.Collect(ctx, tx, tables.ReadReading, "SELECT "+tables.ReadingColumns+" FROM readings WHERE boat_id = ? ORDER BY component_id, day, new_meter, hours", gone)
	if err != nil {
		return err
	}
	for _, r := range all {
		was := r
		if p, ok := m.Parts[r.ComponentID]; ok {
			r.ComponentID = p
			if err := tables.CheckMeter(ctx, tx, kept, r); err != nil {
				return fmt.Errorf("%q and %q are taken for one: %w", was.ComponentID, p, err)
			}
		}
		moved, err := kernel.Collect(ctx, tx, kernel.FirstInt,
			"UPDATE OR IGNORE readings SET boat_id = ?, component_id = ? WHERE boat_id = ? AND component_id = ? AND day = ? AND new_meter = ? AND hours = ? RETURNING hours",
			kept, r.ComponentID, gone, was.ComponentID, r.Day.String(), kernel.BoolArg(r.NewMeter), int64(r.Hours))
		if err != nil {
			return fmt.Errorf("reading of %s: %w", r.Day, err)
		}
		if len(moved) > 0 {
			m.Readings = append(m.Readings, [4]string{r.ComponentID, was.ComponentID, r.Day.String(), fmt.Sprint(int64(r.Hours))})
		}
	}
	return nil
}

// HullFields are the facts of a hull that a merge fills where they are empty.
func HullFields(b *schedule.Boat) map[string]*string {
	return map[string]*string{"hin": &b.HIN, "name": &b.Name, "make": &b.Make, "model": &b.Model}
}

func fillHull(ctx context.Context, tx kernel.Querier, now time.Time, kept, gone string, m *mergeUndo) error {
	k, err := tables.Boat(ctx, tx, kept)
	if err != nil {
		return err
	}
	g, err := tables.Boat(ctx, tx, gone)
	if err != nil {
		return err
	}
	mine, theirs := HullFields(&k), HullFields(&g)
	for _, f := range slices.Sorted(maps.Keys(mine)) {
		if *mine[f] == "" && *theirs[f] != "" {
			*mine[f] = *theirs[f]
			m.Filled = append(m.Filled, f)
		}
	}
	if k.Year == 0 && g.Year != 0 {
		k.Year = g.Year
		m.Filled = append(m.Filled, "year")
	}
	if _, err := tables.PutBoat(ctx, tx, k); err != nil {
		return err
	}
	m.Rows["gone"] = []string{g.Gone.String()}
	if g.Gone == 0 {
		g.Gone = civil.FromTime(now)
	}
	_, err = tables.PutBoat(ctx, tx, g)
	return err
}

// unmergeBoat takes a merge of boats back.
func unmergeBoat(ctx context.Context, tx kernel.Querier, kept, gone string, m *mergeUndo) error {
	if _, err := tx.ExecContext(ctx, "PRAGMA defer_foreign_keys = ON"); err != nil {
		return err
	}
	for _, id := range m.MovedParts { // with all that was read and done since
		if _, err := tx.ExecContext(ctx, "UPDATE components SET boat_id = ? WHERE id = ? AND boat_id = ?", gone, id, kept); err != nil {
			return err
		}
		if _, err := tx.ExecContext(ctx, "UPDATE readings SET boat_id = ? WHERE component_id = ? AND boat_id = ?", gone, id, kept); err != nil {
			return err
		}
	}
	for _, r := range m.Records {
		if _, err := tx.ExecContext(ctx, "UPDATE records SET boat_id = ?, id = ?, component_id = ? WHERE boat_id = ? AND day = ? AND id = ?",
			gone, r[2], r[3], kept, r[0], r[1]); err != nil {
			return err
		}
	}
	for _, r := range m.Readings {
		if _, err := tx.ExecContext(ctx, "UPDATE readings SET boat_id = ?, component_id = ? WHERE boat_id = ? AND component_id = ? AND day = ? AND hours = CAST(? AS INTEGER)",
			gone, r[1], kept, r[0], r[2], r[3]); err != nil {
			return err
		}
	}
	if err := returnTransfers(ctx, tx, "boat_id", kept, gone, m); err != nil {
		return err
	}
	if err := restoreOwners(ctx, tx, kept, m); err != nil {
		return err
	}
	if err := emptyHull(ctx, tx, kept, gone, m); err != nil {
		return err
	}
	return kernel.MarkDirty(ctx, tx, kept, gone)
}

// restoreOwners writes the owners of the kept boat down as they were, unless it
// has changed hands since.
func restoreOwners(ctx context.Context, tx kernel.Querier, kept string, m *mergeUndo) error {
	now, err := tables.Ownerships(ctx, tx, kept)
	if err != nil {
		return err
	}
	if !slices.Equal(ownerTexts(now), m.OwnersNow) {
		return fmt.Errorf("boat %q has changed owners since; correct its owners by hand: %w", kept, store.ErrRefused)
	}
	var all []tables.Ownership
	for _, o := range m.Owners {
		from, err := dayOrNone(o[1])
		if err != nil {
			return err
		}
		to, err := dayOrNone(o[2])
		if err != nil {
			return err
		}
		all = append(all, tables.Ownership{Claim: tables.Claim{Customer: o[0], From: from}, To: to})
	}
	return tables.ReplaceOwnerships(ctx, tx, kept, all)
}

// ownerTexts writes owners as an undo record keeps them.
func ownerTexts(all []tables.Ownership) (texts [][3]string) {
	for _, o := range all {
		texts = append(texts, [3]string{o.Customer, o.From.String(), o.To.String()})
	}
	return texts
}

func dayOrNone(s string) (civil.Day, error) {
	if s == "" {
		return 0, nil
	}
	return kernel.ParseDay(s)
}

// emptyHull takes the filled fields and the going away back.
func emptyHull(ctx context.Context, tx kernel.Querier, kept, gone string, m *mergeUndo) error {
	k, err := tables.Boat(ctx, tx, kept)
	if err != nil {
		return err
	}
	g, err := tables.Boat(ctx, tx, gone)
	if err != nil {
		return err
	}
	mine, theirs := HullFields(&k), HullFields(&g)
	for _, f := range m.Filled {
		if f == "year" && k.Year == g.Year {
			k.Year = 0
		} else if mine[f] != nil && *mine[f] == *theirs[f] {
			*mine[f] = ""
		}
	}
	if _, err := tables.PutBoat(ctx, tx, k); err != nil {
		return err
	}
	g.Gone = 0
	if was := m.Rows["gone"]; len(was) == 1 && was[0] != "" {
		if g.Gone, err = dayOrNone(was[0]); err != nil {
			return err
		}
	}
	_, err = tables.PutBoat(ctx, tx, g)
	return err
}

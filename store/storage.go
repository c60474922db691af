package store

import (
	"context"

	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/store/internal/kernel"
	"bellbuoy/store/internal/tables"
)

// StoredItem is what a component of a boat in storage needs ([schedule.BasisStored]).
type StoredItem struct {
	Item  schedule.DueItem
	Boat  schedule.Boat
	Label string // the component's
}

// StoredDue returns what falls due in storage from one day to another, by where
// in the yard the boats stand.
func (db *Reader) StoredDue(ctx context.Context, from, to civil.Day) ([]StoredItem, error) {
	all, err := kernel.Collect(ctx, db.Read, func(c *kernel.Row) StoredItem {
		var s StoredItem
		s.Label = c.Text(0)
		c.Skip(1)
		s.Item = tables.ReadItem(c)
		c.Skip(tables.ItemWidth)
		s.Boat = tables.ReadBoat(c)
		return s
	}, "SELECT coalesce(c.label, ''), "+kernel.Column("i", tables.ItemColumns)+", "+kernel.Column("b", tables.BoatColumns)+
		` FROM due_items i JOIN boats b ON b.id = i.boat_id LEFT JOIN components c ON c.boat_id = i.boat_id AND c.id = i.component_id
		WHERE i.basis = 'stored' AND i.due BETWEEN ? AND ? ORDER BY b.berth, b.id, i.component_id`, from.String(), to.String())
	return all, kernel.Wrap(err, "read what is due in storage")
}

// StoredBoats counts the boats of [DB.StoredDue].
func (db *Reader) StoredBoats(ctx context.Context, from, to civil.Day) (int, error) {
	n, err := kernel.One(ctx, db.Read, kernel.FirstInt, "SELECT count(DISTINCT boat_id) FROM due_items WHERE basis = 'stored' AND due BETWEEN ? AND ?", from.String(), to.String())
	return int(n), kernel.Wrap(err, "count the boats with work in storage")
}

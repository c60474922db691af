package archive

import (
	"context"
	"errors"
	"fmt"
	"io"
	"maps"
	"os"
	"slices"
	"strings"

	"bellbuoy/store/imports/columns"
	"bellbuoy/store/internal/kernel"
	"bellbuoy/store/internal/tables"
)

// ownerLines are the lines of boats.csv: one for each owner, one for each time
// that the shop took the boat back, and one for a boat that never had an owner.
const ownerLines = `WITH lines AS (
	SELECT boat_id, from_day AS day, customer_id FROM ownerships
	UNION ALL
	SELECT o.boat_id, o.to_day, '' FROM ownerships o WHERE o.to_day IS NOT NULL
		AND NOT EXISTS (SELECT 1 FROM ownerships n WHERE n.boat_id = o.boat_id AND n.from_day = o.to_day)
	UNION ALL
	SELECT b.id, b.sold_on, '' FROM boats b WHERE NOT EXISTS (SELECT 1 FROM ownerships o WHERE o.boat_id = b.id)
) SELECT customer_id, day, ` + tables.BoatColumns + ` FROM lines JOIN boats ON id = boat_id ORDER BY id, day`

// readOwnerLine reads a row of [ownerLines].
func readOwnerLine(c *kernel.Row) columns.Boat {
	row := columns.Boat{CustomerID: c.Text(0), Winter: "no"}
	since := c.Day(1)
	c.Skip(2)
	row.Boat = tables.ReadBoat(c)
	if row.CustomerID != "" && since > row.SoldOn {
		row.Origin = columns.OriginService
	}
	if row.WinterWork {
		row.Winter = "yes"
	}
	row.SoldOn = since
	return row
}

// exportIntake writes the five files.
func exportIntake(ctx context.Context, q kernel.Querier, root *os.Root) error {
	own, err := attributes(ctx, q)
	if err != nil {
		return err
	}
	readReading := func(c *kernel.Row) columns.Reading {
		return columns.Reading{Reading: tables.ReadReading(c), HasHours: true}
	}
	return errors.Join(
		exportFile(ctx, q, root, &columns.Customers, tables.ReadCustomer, "SELECT "+tables.CustomerColumns+" FROM customers ORDER BY id"),
		exportFile(ctx, q, root, &columns.Boats, readOwnerLine, ownerLines),
		exportFile(ctx, q, root, &columns.Components, tables.ReadComponent, "SELECT "+tables.ComponentColumns+" FROM components ORDER BY boat_id, id", own...),
		exportFile(ctx, q, root, &columns.History, tables.ReadRecord, "SELECT "+tables.RecordColumns+" FROM records ORDER BY boat_id, day, id"),
		exportFile(ctx, q, root, &columns.Readings, readReading, "SELECT "+tables.ReadingColumns+" FROM readings ORDER BY component_id, day, new_meter, hours"))
}

// exportFile writes one of the five files, each attribute of the shop's own in a
// further column.
func exportFile[R any](ctx context.Context, q kernel.Querier, root *os.Root, f *columns.File[R], read func(*kernel.Row) R, query string, own ...string) error {
	err := writeFile(root, f.Name, func(w io.Writer) error {
		return writeRows(ctx, q, w, f.Header(own...), func(c *kernel.Row) []string {
			row := read(c)
			return f.Cells(&row, own...)
		}, query)
	})
	if err != nil {
		return fmt.Errorf("%s: %w", f.Name, err)
	}
	return nil
}

// attributes are the names of the shop's own attributes of components.
func attributes(ctx context.Context, q kernel.Querier) ([]string, error) {
	sets, err := kernel.Collect(ctx, q, kernel.FirstText, "SELECT DISTINCT extra FROM components WHERE extra <> ''")
	names := map[string]bool{}
	for _, set := range sets {
		for pair := range strings.SplitSeq(set, ";") {
			if name, _, ok := strings.Cut(pair, "="); ok {
				names[name] = true
			}
		}
	}
	return slices.Sorted(maps.Keys(names)), err
}

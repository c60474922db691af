package archive

import (
	"context"
	"fmt"
	"io"
	"os"
	"slices"
	"strings"

	"bellbuoy/store/internal/kernel"
	"bellbuoy/store/internal/tables"
)

// intakeFile is one of the five import files, as a query gives it. The
// query's columns are the file's.
type intakeFile struct {
	name   string
	header []string
	query  string
	// word puts a cell into the file's words; nil writes text as it is.
	word func(c *kernel.Row, i int) string
}

// ownerLines are the lines of boats.csv: one for each owner, one for each time
// that the shop took the boat back, and one for a boat that never had an owner.
const ownerLines = `WITH lines AS (
	SELECT boat_id, from_day AS day, customer_id FROM ownerships
	UNION ALL
	SELECT o.boat_id, o.to_day, '' FROM ownerships o WHERE o.to_day IS NOT NULL
		AND NOT EXISTS (SELECT 1 FROM ownerships n WHERE n.boat_id = o.boat_id AND n.from_day = o.to_day)
	UNION ALL
	SELECT b.id, b.sold_on, '' FROM boats b WHERE NOT EXISTS (SELECT 1 FROM ownerships o WHERE o.boat_id = b.id)
) SELECT b.id, l.customer_id, b.hin, b.name, b.make, b.model, iif(b.year > 0, b.year, ''), b.kind, iif(b.length_ft > 0, b.length_ft, ''),
	b.water, b.place, b.berth, l.day, b.warranty_until,
	iif(l.customer_id <> '' AND l.day > coalesce(b.sold_on, ''), 'service', ''), iif(b.winter_work, 'yes', 'no') FROM lines l JOIN boats b ON b.id = l.boat_id ORDER BY b.id, l.day`

// intakeFiles are the files whose columns are always the same.
func intakeFiles() []intakeFile {
	return []intakeFile{
		{
			name:   "customers.csv",
			header: []string{"customer_id", "name", "email", "phone", "address", "city", "region", "postal_code", "contact_by", "language"},
			query:  "SELECT " + tables.CustomerColumns + " FROM customers ORDER BY id",
		},
		{
			name: "boats.csv",
			header: []string{
				"boat_id", "customer_id", "hin", "name", "make", "model", "year", "kind", "length_ft", "water",
				"place", "berth", "sold_on", "warranty_until", "origin", "winter_work",
			},
			query: ownerLines,
			word: func(c *kernel.Row, i int) string {
				if i == 6 || i == 8 {
					return plainNumber(c, i)
				}
				return c.Text(i)
			},
		},
		{
			name:   "history.csv",
			header: []string{"boat_id", "component_id", "day", "service", "hours", "amount", "by", "note", "record_id"},
			query:  "SELECT boat_id, component_id, day, service, hours, amount, done_by, note, id FROM records ORDER BY boat_id, day, id",
			word: func(c *kernel.Row, i int) string {
				switch {
				case i == 4 && !c.Null(i):
					return c.Hours(i).String()
				case i == 5:
					return c.Cents(i).String()
				}
				return c.Text(i)
			},
		},
		{
			name:   "readings.csv",
			header: []string{"component_id", "day", "hours", "read_by", "new_meter"},
			query: `SELECT component_id, day, hours, read_by, iif(new_meter, 'yes', '') FROM readings
				ORDER BY component_id, day, new_meter, hours`,
			word: func(c *kernel.Row, i int) string {
				if i == 2 {
					return c.Hours(i).String()
				}
				return c.Text(i)
			},
		},
	}
}

// plainNumber writes a number that may be missing.
func plainNumber(c *kernel.Row, i int) string {
	if v := c.Value(i); v != "" && v != nil {
		return fmt.Sprint(v)
	}
	return ""
}

// exportIntake writes the five files.
func exportIntake(ctx context.Context, q kernel.Querier, root *os.Root) error {
	components, err := componentFile(ctx, q)
	if err != nil {
		return err
	}
	for _, f := range append(intakeFiles(), components) {
		word := f.word
		if word == nil {
			word = func(c *kernel.Row, i int) string { return c.Text(i) }
		}
		err := writeFile(root, f.name, func(w io.Writer) error { return writeRows(ctx, q, w, f.header, word, f.query) })
		if err != nil {
			return fmt.Errorf("%s: %w", f.name, err)
		}
	}
	return nil
}

// componentFile is components.csv: the shop's own attributes have a column each.
func componentFile(ctx context.Context, q kernel.Querier) (intakeFile, error) {
	sets, err := kernel.Collect(ctx, q, kernel.FirstText, "SELECT DISTINCT extra FROM components WHERE extra <> ''")
	if err != nil {
		return intakeFile{}, err
	}
	var own []string
	for _, set := range sets {
		for name := range attributes(set) {
			own = append(own, name)
		}
	}
	slices.Sort(own)
	own = slices.Compact(own)
	fixed := []string{
		"component_id", "boat_id", "kind", "label", "propulsion", "stroke", "fuel", "cooling", "in_service", "expires",
		"made", "family", "duty",
	}
	return intakeFile{
		name: "components.csv", header: append(slices.Clone(fixed), own...),
		query: `SELECT id, boat_id, kind, label, propulsion, stroke, fuel, cooling, in_service, expires, made, family,
			CAST(duty AS TEXT), extra FROM components ORDER BY boat_id, id`,
		word: func(c *kernel.Row, i int) string {
			if i < len(fixed) {
				return c.Text(i)
			}
			return attributes(c.Text(len(fixed)))[own[i-len(fixed)]]
		},
	}, nil
}

// attributes reads "brakes=disc;tyres=two".
func attributes(s string) map[string]string {
	all := map[string]string{}
	for pair := range strings.SplitSeq(s, ";") {
		if name, value, ok := strings.Cut(pair, "="); ok {
			all[name] = value
		}
	}
	return all
}

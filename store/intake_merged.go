package store

import (
	"context"
	"encoding/json"
	"strings"

	"bellbuoy/schedule"
	"bellbuoy/store/internal/kernel"
	"bellbuoy/store/internal/tables"
)

// mergedNames maps ids that files may still use to those that they were merged
// into, under the name of the column that holds them: "boat_id B2" to "B1".
func mergedNames(ctx context.Context, q kernel.Querier) (map[string]string, error) {
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
		if r[0] == TwinCustomer {
			add("customer_id", r[2], r[1])
			continue
		}
		add("boat_id", r[2], r[1])
		m := moved{}
		if err := json.Unmarshal([]byte(r[3]), &m); err != nil {
			return nil, err
		}
		for gone, kept := range m.Parts {
			add("component_id", gone, kept)
		}
	}
	return names, nil
}

// hasMerged reports whether something was merged into the id, by the names of
// [mergedNames].
func hasMerged(names map[string]string, column, kept string) bool {
	for gone, into := range names {
		if into == kept && strings.HasPrefix(gone, column+" ") {
			return true
		}
	}
	return false
}

// keepFilled leaves what a merge filled where the file's line is empty.
func (in *intake) keepFilled(c *schedule.Customer) error {
	if !hasMerged(in.merged, "customer_id", c.ID) {
		return nil
	}
	old, err := tables.Customer(in.ctx, in.tx, c.ID)
	if known, err := kernel.Found(err); err != nil || !known {
		return err
	}
	keepTexts(fillable(c), fillable(&old))
	return nil
}

// keepHull does the same for a boat that was known as was.
func (in *intake) keepHull(was schedule.Boat, now *schedule.Boat) {
	if !hasMerged(in.merged, "boat_id", now.ID) {
		return
	}
	keepTexts(hullFields(now), hullFields(&was))
	if now.Year == 0 {
		now.Year = was.Year
	}
}

func keepTexts(now, was map[string]*string) {
	for f, to := range now {
		if *to == "" {
			*to = *was[f]
		}
	}
}

// skipMerged passes over the line that describes something merged away: what
// is known of it stands with the other one.
func (in *intake) skipMerged(l *line, column string) bool {
	if len(in.merged) == 0 {
		return false
	}
	id := l.text(column)
	kept, ok := in.merged[column+" "+id]
	if ok {
		l.note(column, "%q was merged into %q; the line was passed over", id, kept)
		in.report.count(tables.Unchanged)
	}
	return ok
}

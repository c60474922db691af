package imports

import (
	"strings"

	"bellbuoy/schedule"
	"bellbuoy/store/duplicates"
	"bellbuoy/store/imports/columns"
	"bellbuoy/store/internal/kernel"
	"bellbuoy/store/internal/tables"
)

// hasMerged reports whether something was merged into the id, by the names of
// [duplicates.MergedNames].
func hasMerged(names map[string]string, column, kept string) bool {
	for gone, into := range names {
		if into == kept && strings.HasPrefix(gone, column+" ") {
			return true
		}
	}
	return false
}

// keepCustomer leaves what the file has no column for, and what a merge filled where
// its line is empty.
func (in *intake) keepCustomer(lay *columns.Layout[schedule.Customer], c *schedule.Customer) error {
	merged := hasMerged(in.shop.Merged, "customer_id", c.ID)
	if !merged && !lay.Lacks() {
		return nil
	}
	old, err := tables.Customer(in.ctx, in.tx, c.ID)
	if known, err := kernel.Found(err); err != nil || !known {
		return err
	}
	if lay.Lacks() {
		lay.Keep(c, &old)
	}
	if merged {
		keepTexts(duplicates.Fillable(c), duplicates.Fillable(&old))
	}
	return nil
}

// keepHull does the same for a boat that was known as was.
func (in *intake) keepHull(was schedule.Boat, latest *columns.Boat) {
	if in.boatLayout.Lacks() {
		in.boatLayout.Keep(latest, &columns.Boat{Boat: was})
	}
	now := &latest.Boat
	if !hasMerged(in.shop.Merged, "boat_id", now.ID) {
		return
	}
	keepTexts(duplicates.HullFields(now), duplicates.HullFields(&was))
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
func (in *intake) skipMerged(l *columns.Line, column, id string) bool {
	if len(in.shop.Merged) == 0 || id == "" {
		return false
	}
	kept, ok := in.shop.Merged[column+" "+id]
	if ok {
		l.Note(column, "%q was merged into %q; the line was passed over", id, kept)
		in.report.count(l.File, tables.Unchanged)
	}
	return ok
}

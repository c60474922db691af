package imports

import (
	"strings"

	"bellbuoy/schedule"
	"bellbuoy/store/duplicates"
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

// keepKnown leaves the language where the file has no such column, and what a
// merge filled where its line is empty.
func (in *intake) keepKnown(l *line, c *schedule.Customer) error {
	merged := hasMerged(in.merged, "customer_id", c.ID)
	_, said := l.at["language"]
	if said && !merged {
		return nil
	}
	old, err := tables.Customer(in.ctx, in.tx, c.ID)
	if known, err := kernel.Found(err); err != nil || !known {
		return err
	}
	if !said {
		c.Language = old.Language
	}
	if merged {
		keepTexts(duplicates.Fillable(c), duplicates.Fillable(&old))
	}
	return nil
}

// keepHull does the same for a boat that was known as was.
func (in *intake) keepHull(was schedule.Boat, now *schedule.Boat) {
	if !hasMerged(in.merged, "boat_id", now.ID) {
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

package imports

import (
	"context"
	"encoding/json"
	"fmt"
	"strings"

	"bellbuoy/schedule"
	"bellbuoy/store/internal/kernel"
)

// takenBack counts, by what a line says, the work and the readings that a person took
// back: a file that still holds them does not bring them back.
type takenBack map[string]int

// entryKey is a key of lines as one text.
func entryKey(key []string) string { return strings.Join(key, "\x00") }

// leaves reports whether a line with such a key is left out, and counts it.
func (t takenBack) leaves(key []string) bool {
	k := entryKey(key)
	if t[k] == 0 {
		return false
	}
	t[k]--
	return true
}

// readTakenBack reads them from the change history.
func readTakenBack(ctx context.Context, q kernel.Querier) (takenBack, error) {
	all := make(takenBack)
	var fault error
	_, err := kernel.Collect(ctx, q, func(c *kernel.Row) (none struct{}) {
		var key []string
		var err error
		if c.Text(0) == "remove a record" {
			var r schedule.Record
			err = json.Unmarshal([]byte(c.Text(1)), &r)
			key = workKey(r)
		} else {
			var r schedule.Reading
			err = json.Unmarshal([]byte(c.Text(1)), &r)
			key = readingKey(r)
		}
		if err != nil {
			fault = err
		}
		all[entryKey(key)]++
		return none
	}, "SELECT what, before FROM audit WHERE what IN ('remove a record', 'remove a reading') AND before IS NOT NULL")
	if err == nil {
		err = fault
	}
	if err != nil {
		return nil, fmt.Errorf("read what was taken back: %w", err)
	}
	return all, nil
}

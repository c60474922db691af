package archive

import "testing"

// TestCopyComparedWithAShopAtWork: a table that lost a row and gained one while the
// copy was made had one fewer in the copy, and nothing is wrong with that.
func TestCopyComparedWithAShopAtWork(t *testing.T) {
	shop := func(audit, outbox, boats, sessions int64) rowCounts {
		return rowCounts{"audit": audit, "outbox": outbox, "boats": boats, "sessions": sessions}
	}
	before := shop(10, 5, 3, 2)
	tests := map[string]struct {
		after, copied rowCounts
		whole         bool
	}{
		"nobody works":                          {before, before, true},
		"one signs out, then another signs in":  {before, shop(10, 5, 3, 1), true},
		"a message is queued after the copy":    {shop(10, 6, 3, 2), before, true},
		"a boat added, then erased, and logged": {shop(12, 5, 3, 2), shop(11, 5, 4, 2), true},
		"a boat is missing":                     {before, shop(10, 5, 2, 2), false},
		"changes are missing":                   {shop(12, 5, 3, 2), shop(9, 5, 3, 2), false},
		"messages are missing":                  {shop(12, 8, 3, 2), shop(12, 0, 3, 2), false},
		"more than there ever was":              {before, shop(11, 5, 3, 2), false},
	}
	for name, tt := range tests {
		t.Run(name, func(t *testing.T) {
			if err := before.compare(tt.after, tt.copied); (err == nil) != tt.whole {
				t.Errorf("whole: %v; the comparison says %v", tt.whole, err)
			}
		})
	}
}

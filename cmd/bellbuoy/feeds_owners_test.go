package main

import (
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"bellbuoy/schedule/testkit"
)

// customers asks that the calendar of every customer holds the events of the
// boats that are his by the shop's own files, and nothing else.
func (c *feedCheck) customers(t *testing.T, s *testShop) {
	t.Helper()
	rows, err := readCSV(filepath.Join(s.dir, "files", "boats.csv"))
	if err != nil {
		t.Fatal(err)
	}
	owner := map[string]string{} // the last line of a boat counts
	for _, row := range rows {
		owner[row["boat_id"]] = row["customer_id"]
	}
	theirs := map[string][]seenEvent{}
	for boat, customer := range owner {
		theirs[customer] = append(theirs[customer], c.of("boat-"+boat)...)
	}
	people, err := readCSV(filepath.Join(s.dir, "files", "customers.csv"))
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range people {
		id := p["customer_id"]
		if got, want := byUID(c.of("customer-"+id)), byUID(theirs[id]); !slices.Equal(got, want) {
			t.Errorf("customer %s: %d events, want the %d of his boats:\n%+v\n%+v", id, len(got), len(want), got, want)
		}
		c.customerEvents += len(theirs[id])
	}
}

// desk asks that the desk's calendar holds the events of all boats in the
// months that it shows, the same ones but for shorter notes. It opens no
// customer's page.
func (c *feedCheck) desk(t *testing.T) {
	t.Helper()
	var want []seenEvent
	from, to := compact(testkit.Day(2027, 3, 1)), compact(testkit.Day(2027, 8, 1))
	for file, events := range c.seen {
		if !strings.HasPrefix(filepath.Base(file), "boat-") {
			continue
		}
		for _, e := range events {
			if e.Start >= from && e.Start < to {
				want = append(want, e)
			}
		}
	}
	got := byUID(c.of("desk"))
	want = byUID(want)
	if len(got) != len(want) || len(got) < 300 {
		t.Fatalf("the desk's calendar has %d events, want %d", len(got), len(want))
	}
	for i := range got {
		g, w := got[i], want[i]
		if len(g.Description) > len(w.Description) || jobs(g.Description) != jobs(w.Description) {
			t.Errorf("%s: the desk reads %q, the customer %q", g.Summary, g.Description, w.Description)
		}
		g.Description, w.Description = "", ""
		if g != w {
			t.Errorf("the desk sees %+v\nthe customer %+v", g, w)
		}
	}
	for file, body := range c.files {
		if filepath.Base(file) == "desk" && strings.Contains(string(body), "/my/") {
			t.Error("the desk's calendar opens customers' pages")
		}
	}
}

// jobs is the paragraph of a note that names the jobs.
func jobs(note string) string {
	for p := range strings.SplitSeq(note, "\n\n") {
		if strings.HasPrefix(p, "Planned: ") {
			return p
		}
	}
	return ""
}

// byUID sorts events, which have no order of their own across boats.
func byUID(events []seenEvent) []seenEvent {
	return slices.SortedFunc(slices.Values(events), func(a, b seenEvent) int { return strings.Compare(a.UID, b.UID) })
}

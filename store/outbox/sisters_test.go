package outbox_test

import (
	"errors"
	"fmt"
	"strings"
	"testing"
	"time"

	"bellbuoy/schedule"
	"bellbuoy/store"
	"bellbuoy/store/outbox"
	"bellbuoy/store/report"
	"bellbuoy/store/storetest"
)

// sister is a shop of two, with these addresses as customers C0, C1 and on.
func sister(t *testing.T, emails ...string) *store.DB {
	t.Helper()
	db := storetest.Open(t)
	for i, email := range emails {
		c := schedule.Customer{ID: "C" + string(rune('0'+i)), Name: "Somebody", Email: email}
		if err := storetest.SaveCustomer(ctx, db, noon, "test", c); err != nil {
			t.Fatal(err)
		}
	}
	return db
}

// share has each of two shops hear of the other, and then again: the second time
// there is no news.
func share(t *testing.T, at time.Time, north, south *store.DB) (changed int) {
	t.Helper()
	for round := range 2 {
		changed = 0
		for _, x := range []struct {
			here, there  *store.DB
			self, sister string
		}{{south, north, "South Works", "North Works"}, {north, south, "North Works", "South Works"}} {
			theirs, err := outbox.StopsOf(ctx, x.there.Reader)
			if err != nil {
				t.Fatal(err)
			}
			n, err := outbox.TakeOver(ctx, x.here, at, x.self, x.sister, theirs)
			if err != nil {
				t.Fatal(err)
			}
			changed += n
		}
		if round == 1 && changed != 0 {
			t.Errorf("told twice, %d changed the second time", changed)
		}
	}
	return changed
}

// wants are what is known of a shop's customers: "" for all emails.
func wants(t *testing.T, db *store.DB) string {
	t.Helper()
	known, err := outbox.MailStatuses(ctx, db.Reader, nil)
	if err != nil {
		t.Fatal(err)
	}
	var all []string
	for _, id := range []string{"C0", "C1", "C2"} {
		s, said := known[id], "all"
		switch {
		case s.NoMail:
			said = "none"
		case s.NoReminders:
			said = "booked"
		}
		if s.Suppressed != "" {
			said += " dead"
		}
		all = append(all, said)
	}
	return strings.Join(all, ", ")
}

// dead has a shop find an address dead, as when an email comes back.
func dead(t *testing.T, db *store.DB, at time.Time, address string) error {
	t.Helper()
	storetest.Raw(t, db, "DELETE FROM revived WHERE address = '"+address+"'",
		fmt.Sprintf("INSERT INTO suppressions (address, reason, since) VALUES ('%s', '550 no such user', %d)", address, at.Unix()))
	return nil
}

func TestStopsOfSisterShops(t *testing.T) {
	north := sister(t, "dana@mail.example", "dana@mail.example", "erik@mail.example")
	south := sister(t, "Dana@mail.example", "other@mail.example", "erik@mail.example")
	at := noon
	step := func(what, wantNorth, wantSouth string, act func() error) {
		t.Helper()
		at = at.Add(time.Hour)
		if act != nil {
			if err := act(); err != nil {
				t.Fatal(what, err)
			}
		}
		share(t, at.Add(time.Minute), north, south)
		if n, s := wants(t, north), wants(t, south); n != wantNorth || s != wantSouth {
			t.Errorf("%s: north %q, south %q; want %q, %q", what, n, s, wantNorth, wantSouth)
		}
	}
	step("nothing said", "all, all, all", "all, all, all", nil)
	// C1 of north has the same address and did not speak: its own shop leaves it.
	step("a stop at north", "booked, all, all", "booked, all, all", func() error { return north.SetOptOut(ctx, at, "Inge", "C0", true, false) })
	step("no email at all, said at south", "none, none, all", "none, all, all", func() error { return south.SetOptOut(ctx, at, "Inge", "C0", true, true) })
	step("taken back at north", "all, none, all", "none, all, all", func() error { return north.SetOptOut(ctx, at, "Inge", "C0", false, false) })
	step("taken back at north for both", "all, all, all", "all, all, all", func() error { return north.SetOptOut(ctx, at, "Inge", "C1", false, false) })
	step("a dead address", "all, all, all dead", "all, all, all dead", func() error { return dead(t, south, at, "erik@mail.example") })
	step("used again where it was not found", "all, all, all", "all, all, all", func() error { return outbox.Unsuppress(ctx, north, at, "Inge", "erik@mail.example") })
	step("dead once more", "all, all, all dead", "all, all, all dead", func() error { return dead(t, north, at, "erik@mail.example") })
	if err := outbox.Unsuppress(ctx, north, at, "Inge", "nobody@mail.example"); !errors.Is(err, store.ErrNotFound) {
		t.Errorf("an address that was not dead: %v", err)
	}
	// What one shop does not know it is not told.
	known, err := outbox.StopsOf(ctx, north.Reader)
	if _, has := known.Works["other@mail.example"]; err != nil || has {
		t.Errorf("north knows of an address that only south has: %v", err)
	}
}

// TestStopWithdrawsAtTheSister: what waits there is withdrawn, and the history says
// where it was said.
func TestStopWithdrawsAtTheSister(t *testing.T) {
	north, south := sister(t, "dana@mail.example"), sister(t, "dana@mail.example")
	l := letter("k1")
	l.CustomerID, l.To, l.Step = "C0", "dana@mail.example", schedule.StepInvitation
	if queue(t, south, l) != 1 {
		t.Fatal("not queued")
	}
	if err := north.SetOptOut(ctx, noon.Add(time.Hour), "Inge", "C0", true, false); err != nil {
		t.Fatal(err)
	}
	share(t, noon.Add(2*time.Hour), north, south)
	if n, err := outbox.MessageCounts(ctx, south.Reader); n[schedule.MessageWithdrawn] != 1 || len(n) != 1 || err != nil {
		t.Errorf("letters %v, %v; want one, withdrawn", n, err)
	}
	all, err := report.AllChanges(ctx, south.Reader, report.ChangeQuery{Limit: 10})
	if err != nil || all[0].Actor != "North Works (sister shop)" || all[0].What != "choose emails" || all[0].CustomerID != "C0" {
		t.Errorf("history: %+v, %v", all[0], err)
	}
}

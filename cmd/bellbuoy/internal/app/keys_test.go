package app_test

import (
	"bytes"
	"log/slog"
	"strings"
	"testing"
	"time"

	"bellbuoy/cmd/bellbuoy/internal/app"
	"bellbuoy/notify/link"
	"bellbuoy/schedule"
	"bellbuoy/store/storetest"
)

// opens reports whether an address opens a customer's page.
func opens(t *testing.T, a *app.App, address string) bool {
	t.Helper()
	_, token, _ := strings.Cut(address, "/my/")
	to, ours := a.Addresses().Parse(link.PurposeMy, token)
	if ours && to.Scope != link.ScopeCustomer {
		t.Fatalf("%s opens %+v", address, to)
	}
	return ours
}

// TestKeyIsRenewed: a command renews the key beside a daemon. New links are other
// ones, the calendars' events carry them, old ones open for 90 days more, in the
// daemon too, and no longer. Renewed once more at once, they end there and then.
func TestKeyIsRenewed(t *testing.T) {
	a := workedApp(t, "10-09", 1)
	begun := d("2026-07-01").At(9, 0, a.Config.Zone())
	at := begun
	if err := storetest.SaveCustomer(t.Context(), a.Writer(), at, "test", schedule.Customer{ID: "C", Name: "Odalys"}); err != nil {
		t.Fatal(err)
	}
	if err := storetest.SetOwner(t.Context(), a.Writer(), at, "test", "B00", "C", d("2026-05-01")); err != nil {
		t.Fatal(err)
	}
	settle(t, a, d("2026-07-01"))
	daemon, err := a.With(t.Context(), a.Config)
	if err != nil {
		t.Fatal(err)
	}
	address := func(a *app.App) string {
		t.Helper()
		u, err := a.MyURL(t.Context(), "C")
		if err != nil {
			t.Fatal(err)
		}
		return u
	}
	feed := func() []byte {
		t.Helper()
		f, err := a.Feed(t.Context(), link.ScopeBoat, "B00", d("2026-07-01"))
		if err != nil {
			t.Fatal(err)
		}
		return bytes.ReplaceAll(f.Body, []byte("\r\n "), nil)
	}
	tick := func(a *app.App, at time.Time) {
		t.Helper()
		if err := a.Tick(t.Context(), func() time.Time { return at }, slog.New(slog.DiscardHandler)); err != nil {
			t.Fatal(err)
		}
	}
	first := address(a)
	if !bytes.Contains(feed(), []byte(first)) {
		t.Fatalf("the calendar does not name %s: the test looks at nothing\n%s", first, feed())
	}
	if err := a.RenewKey(t.Context(), at, "test", false); err != nil {
		t.Fatal(err)
	}
	second := address(a)
	if second == first || bytes.Contains(feed(), []byte(first)) || !bytes.Contains(feed(), []byte(second)) {
		t.Errorf("renewed, the address is %s after %s, and the calendar is\n%s", second, first, feed())
	}
	if opens(t, daemon, second) {
		t.Error("the daemon knows the new key before it has looked")
	}
	tick(daemon, at.Add(time.Minute))
	for _, x := range []struct {
		days int
		old  bool
	}{{0, true}, {89, true}, {90, false}, {400, false}} {
		at = begun.AddDate(0, 0, x.days).Add(time.Hour)
		tick(daemon, at)
		if opens(t, daemon, first) != x.old || !opens(t, daemon, second) || address(daemon) != second {
			t.Errorf("after %d days the old address opens: %v, the new one: %v", x.days, opens(t, daemon, first), opens(t, daemon, second))
		}
	}
	if err := a.RenewKey(t.Context(), at, "test", true); err != nil {
		t.Fatal(err)
	}
	tick(daemon, at)
	if third := address(daemon); opens(t, daemon, second) || !opens(t, daemon, third) {
		t.Error("renewed at once, the old address still opens")
	}
	again, err := a.With(t.Context(), a.Config) // the next start
	if err != nil {
		t.Fatal(err)
	}
	if opens(t, again, second) || address(again) != address(daemon) {
		t.Error("the next start uses other keys")
	}
}

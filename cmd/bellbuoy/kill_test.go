package main

import (
	"fmt"
	"maps"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"bellbuoy/cmd/bellbuoy/internal/app"
	"bellbuoy/cmd/bellbuoy/internal/config"
	"bellbuoy/cmd/bellbuoy/internal/demo"
	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/store/outbox"
)

// inventedShop is a shop with so many boats and three years behind them.
func inventedShop(t testing.TB, settings string, boats int, today civil.Day) *testShop {
	t.Helper()
	s := newShop(t, settings)
	s.today = today.String()
	files := filepath.Join(s.dir, "files")
	if err := os.Mkdir(files, 0o755); err != nil {
		t.Fatal(err)
	}
	if err := demo.Generate(rand.New(rand.NewPCG(7, 7)), today, boats, 3).WriteTo(files); err != nil {
		t.Fatal(err)
	}
	s.do(t, "import", files)
	return s
}

// open opens the shop beside whatever else works on it.
func (s *testShop) open(t testing.TB) *app.App {
	t.Helper()
	cfg, err := config.Load(s.config())
	if err != nil {
		t.Fatal(err)
	}
	h, err := app.Open(t.Context(), cfg)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { h.Close() })
	return h
}

// killAt says when a daemon is to be killed: at the n-th time that the mail
// server sees a stage, or after a while if there is none.
type killAt struct {
	stage mailStage
	n     int
	lost  bool // the server goes down with it and the letter is not accepted
	after time.Duration
}

func (k killAt) String() string {
	if k.stage == "" {
		return fmt.Sprint("after ", k.after)
	}
	return fmt.Sprintf("at the %s of letter %d", k.stage, k.n)
}

// killings are the moments: each stage of a letter, and while the daemon reads,
// plans, pencils and publishes after its start.
func killings(rng *rand.Rand) []killAt {
	var all []killAt
	for i, s := range []mailStage{stageMail, stageRcpt, stageDot, stageDot, stageAccepted, stageAccepted} {
		all = append(all, killAt{stage: s, n: 1 + rng.IntN(5), lost: i%2 == 0})
	}
	for range 6 {
		all = append(all, killAt{after: time.Duration(rng.IntN(700)) * time.Millisecond})
	}
	rng.Shuffle(len(all), func(i, j int) { all[i], all[j] = all[j], all[i] })
	return all
}

// TestServeKilledAtAnyMoment kills the daemon twelve times, with no warning,
// while it plans and while it sends to a server that counts, and starts it again
// some days later each time. Nothing that was written down is lost, every boat
// has its plan, and no customer gets a reminder twice. A letter whose dot had
// gone out when the daemon died may or may not have arrived (RFC 1047): it must
// be on the list of uncertain ones.
func TestServeKilledAtAnyMoment(t *testing.T) {
	if testing.Short() {
		t.Skip("kills many daemons")
	}
	rng := rand.New(rand.NewPCG(1047, 1))
	box := newMailbox(t)
	day := civil.Of(2027, 3, 15)
	s := inventedShop(t, strings.Replace(demoSettings("127.0.0.1:8410", box.address, false), "[reminders]\n", "[reminders]\ndaily_limit = 500\n", 1), 150, day)
	s.do(t, "mail", "on")
	recorded := map[string]string{} // boat by record
	for i, k := range killings(rng) {
		day += civil.Day(1 + rng.IntN(4))
		for !sends(day) {
			day++
		}
		s.today = day.String()
		boat, id := fmt.Sprintf("B%05d", 1+i), ""
		killOnce(t, s, box, k, func() {
			out := s.do(t, "record", boat, "hull-check", "--note", "kill -9")
			id = strings.TrimSuffix(strings.Fields(strings.SplitN(out, "(record ", 2)[1])[0], ").")
		})
		recorded[id] = boat
	}
	drained(t, s, day)
	h := s.open(t)
	checkLetters(t, h, box)
	for id, boat := range recorded {
		f, err := h.Facts(t.Context(), boat)
		if err != nil || !hasRecord(&f, id) {
			t.Errorf("record %s of boat %s is lost: %v", id, boat, err)
		}
	}
	checkPlans(t, s, h)
}

// sends reports whether reminders leave on a day.
func sends(d civil.Day) bool {
	return d.Weekday() != time.Saturday && d.Weekday() != time.Sunday
}

// killOnce starts the daemon, does something beside it, and kills it.
func killOnce(t *testing.T, s *testShop, box *mailbox, k killAt, meanwhile func()) {
	t.Helper()
	d := s.serve(t)
	killed := make(chan struct{})
	var seen atomic.Int32 // by several connections at once
	if k.stage != "" {
		box.watch(func(at mailStage) bool {
			if at != k.stage {
				return true
			}
			if int(seen.Add(1)) != k.n {
				return true
			}
			d.kill()
			close(killed)
			return !k.lost
		})
	}
	meanwhile()
	if k.stage == "" {
		<-time.After(k.after)
		d.kill()
	} else {
		select {
		case <-killed:
		case <-time.After(5 * time.Second): // too few letters on that day
			d.kill()
			t.Logf("%s did not come; killed without", k)
		}
	}
	box.watch(nil)
}

// drained lets the daemon's work be finished: on the following days everything
// that waits goes out.
func drained(t *testing.T, s *testShop, day civil.Day) {
	t.Helper()
	for range 10 {
		day++
		s.today = day.String()
		s.do(t, "mail", "send")
		left := letters(t, s)
		if left[schedule.MessageQueued]+left[schedule.MessageLeased]+left[schedule.MessageDeferred] == 0 {
			return
		}
	}
	t.Fatalf("letters still wait: %v", letters(t, s))
}

// checkLetters compares what the outbox says of every letter with what the mail
// server accepted.
func checkLetters(t *testing.T, h *app.App, box *mailbox) {
	t.Helper()
	copies, counts, customers := box.copies(), map[schedule.MessageState]int{}, map[string]bool{}
	lost := 0 // uncertain ones that did not arrive
	eachLetter(t, h, func(l *schedule.Message) {
		n := copies["<"+l.MessageID+">"]
		delete(copies, "<"+l.MessageID+">")
		counts[l.State]++
		switch {
		case l.State == schedule.MessageSent && n == 1:
		case l.State == schedule.MessageUncertain && n <= 1:
			lost += 1 - n
		case (l.State == schedule.MessageExpired || l.State == schedule.MessageWithdrawn) && n == 0:
		default:
			t.Errorf("letter %d to %s is %s and was accepted %d times", l.ID, l.To, l.State, n)
		}
		customers[l.CustomerID] = true
	})
	checkNotified(t, h, slices.Sorted(maps.Keys(customers)))
	for id, n := range copies {
		t.Errorf("%d copies of %s were accepted, and the outbox knows nothing of it", n, id)
	}
	if counts[schedule.MessageSent] < 30 || counts[schedule.MessageUncertain] == 0 {
		t.Errorf("letters %v: too few, or no daemon died with a dot under way", counts)
	}
	t.Logf("letters %v; of the uncertain ones %d did not arrive", counts, lost)
}

// checkNotified asks that no step of a visit was told on two days. What customers
// heard is written down with the letter that tells it, and each letter was
// accepted once at the most.
func checkNotified(t *testing.T, h *app.App, customers []string) {
	t.Helper()
	heard, err := outbox.Notified(t.Context(), h.DB, customers)
	if err != nil || len(heard) < 30 {
		t.Fatalf("%d customers heard anything: %v", len(heard), err)
	}
	type step struct {
		customer, visit string
		step            schedule.Step
	}
	told := map[step]civil.Day{}
	for customer, all := range heard {
		for _, f := range all {
			k := step{customer, f.Subject, f.Step}
			if on, twice := told[k]; twice {
				t.Errorf("%+v was told on %s and on %s", k, on, f.On)
			}
			told[k] = f.On
		}
	}
}

func eachLetter(t *testing.T, h *app.App, f func(*schedule.Message)) {
	t.Helper()
	before := int64(0)
	for {
		page, err := outbox.Messages(t.Context(), h.DB, outbox.MessageQuery{Before: before})
		if err != nil {
			t.Fatal(err)
		}
		if len(page) == 0 {
			return
		}
		for i := range page {
			f(&page[i])
			before = page[i].ID
		}
	}
}

func hasRecord(f *schedule.Facts, id string) bool {
	for _, r := range f.Records {
		if r.ID == id {
			return true
		}
	}
	return false
}

// checkPlans asks for a plan of every boat, and that the shop finds nothing
// wrong with itself.
func checkPlans(t *testing.T, s *testShop, h *app.App) {
	t.Helper()
	boats, err := h.DB.Boats(t.Context(), "", 1000)
	if err != nil || len(boats) < 150 {
		t.Fatalf("%d boats: %v", len(boats), err)
	}
	for _, b := range boats {
		plan, err := h.DB.Plan(t.Context(), b.ID)
		if err != nil || len(plan.Items) == 0 || len(plan.Visits) == 0 {
			t.Errorf("boat %s has no plan: %d items, %v", b.ID, len(plan.Items), err)
		}
	}
	untilSound(t, s)
}

// untilSound lets the daemon make up for what it was kept from, such as the
// day's backup, until the shop finds nothing wrong with itself.
func untilSound(t *testing.T, s *testShop) {
	t.Helper()
	d := s.serve(t)
	tick := time.NewTicker(200 * time.Millisecond)
	defer tick.Stop()
	var out []byte
	for end := time.Now().Add(patience); time.Now().Before(end); <-tick.C {
		var err error
		if out, err = exec.Command(program, "check", "--config", s.config(), "--today", s.today).Output(); err == nil {
			d.stop(t)
			return
		}
	}
	t.Errorf("the shop stays unsound:\n%s", out)
}

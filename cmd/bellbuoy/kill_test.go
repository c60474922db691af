package main

import (
	"cmp"
	"fmt"
	"maps"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"sync"
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
	if err := demo.WriteParts(files, demo.Parts(rand.New(rand.NewPCG(7, 7)), today, boats, 3)); err != nil {
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
// server sees a stage, or the moment somebody has the answer to the n-th form, or
// after a while.
type killAt struct {
	stage mailStage
	n     int
	lost  bool // the server goes down with it and the letter is not accepted
	after time.Duration
}

func (k killAt) String() string {
	switch {
	case k.stage != "":
		return fmt.Sprintf("at the %s of letter %d", k.stage, k.n)
	case k.n > 0:
		return fmt.Sprintf("at the answer to form %d", k.n)
	}
	return fmt.Sprint("after ", k.after)
}

// someKill is a moment: half of them a stage of a letter, a quarter the answer to a
// form, a quarter any time while the daemon reads, plans, pencils and publishes.
func someKill(rng *rand.Rand) killAt {
	switch rng.IntN(4) {
	case 0:
		return killAt{after: time.Duration(rng.IntN(1500)) * time.Millisecond}
	case 1:
		return killAt{n: 1 + rng.IntN(12)}
	}
	stages := []mailStage{stageMail, stageRcpt, stageDot, stageAccepted}
	return killAt{stage: stages[rng.IntN(len(stages))], n: 1 + rng.IntN(3), lost: rng.IntN(2) == 0}
}

// killsOfDaemon is how many daemons are killed, and the seed that decides when:
// BELLBUOY_SERVE_KILLS and BELLBUOY_SEED, or 20 and 1.
func killsOfDaemon(t *testing.T) (kills int, seed uint64) {
	t.Helper()
	kills, err := strconv.Atoi(cmp.Or(os.Getenv("BELLBUOY_SERVE_KILLS"), "20"))
	if err != nil || kills < 1 {
		t.Fatalf("BELLBUOY_SERVE_KILLS: %v; want how many", err)
	}
	seed, err = strconv.ParseUint(cmp.Or(os.Getenv("BELLBUOY_SEED"), "1"), 10, 64)
	if err != nil {
		t.Fatalf("BELLBUOY_SEED: %v; want a number", err)
	}
	return kills, seed
}

// killsAShop is how many kills one shop lives through before the next one begins:
// about a season of letters.
const killsAShop = 50

// TestServeKilledAtAnyMoment kills the daemon with no warning while it plans, takes
// forms from the desk and from customers, and sends to a server that counts; then it
// starts it again, on the same day or some days later. After each kill every form
// whose answer somebody had is on file. In the end nothing that was written down is
// lost, every boat has its plan, and no customer gets a letter twice. A letter
// whose dot had gone out when the daemon died may or may not have arrived (RFC
// 1047): it must be on the list of uncertain ones.
func TestServeKilledAtAnyMoment(t *testing.T) {
	if testing.Short() {
		t.Skip("kills many daemons")
	}
	kills, seed := killsOfDaemon(t)
	for n := 0; kills > 0; n++ {
		killsHere := min(kills, killsAShop)
		kills -= killsHere
		t.Run(fmt.Sprintf("seed %d shop %d", seed, n), func(t *testing.T) {
			killShop(t, rand.New(rand.NewPCG(seed, uint64(n))), killsHere)
		})
	}
}

// killShop is one shop that lives through so many kills.
func killShop(t *testing.T, rng *rand.Rand, kills int) {
	box := newMailbox(t)
	day := civil.Of(2027, 3, 15)
	s := inventedShop(t, strings.Replace(demoSettings("127.0.0.1:8410", box.address, false), "[reminders]\n", "[reminders]\ndaily_limit = 500\n", 1), 150, day)
	s.doWith(t, strings.NewReader(password+"\n"), "staff", "add", "Inge", "--role", "desk")
	s.do(t, "mail", "on")
	f := newFormPoster(t, s)
	f.check(t, s, false)
	reached := 0
	for range kills {
		for day += civil.Day(rng.IntN(4)); !sends(day); {
			day++
		}
		s.today = day.String()
		if k := someKill(rng); killOnce(t, s, box, k, f) {
			reached++
		} else {
			t.Logf("%s did not come; killed without", k)
		}
		f.check(t, s, false)
	}
	drained(t, s, day)
	checkLetters(t, s.open(t), box)
	f.check(t, s, true)
	checkPlans(t, s, s.open(t))
	t.Logf("%d kills, %d of them at their moment; forms answered: %v", kills, reached, f.count)
	for _, kind := range []string{formJob, formRecord, formBooking, formTake, formCall} {
		if f.count[kind] == 0 {
			t.Errorf("no %s was answered", kind)
		}
	}
}

// sends reports whether reminders leave on a day.
func sends(d civil.Day) bool {
	return d.Weekday() != time.Saturday && d.Weekday() != time.Sunday
}

// enoughForms is when a daemon is killed whose moment has not come: by then what it
// has to send that day is gone, on a slow machine too.
const enoughForms = 60

// killOnce starts the daemon, has forms posted, and kills it. It reports whether that was
// at the moment k.
func killOnce(t *testing.T, s *testShop, box *mailbox, k killAt, f *formPoster) bool {
	t.Helper()
	d := s.serve(t)
	killed := make(chan bool, 1)
	var once sync.Once
	kill := func(atMoment bool) {
		once.Do(func() {
			d.kill()
			killed <- atMoment
		})
	}
	var seen atomic.Int32 // by several connections at once
	if k.stage != "" {
		box.watch(func(at mailStage) bool {
			if at != k.stage || int(seen.Add(1)) != k.n {
				return true
			}
			kill(true)
			return !k.lost
		})
	}
	stop := f.post(t, s, d, func(answered int) {
		if k.stage == "" && answered == k.n || answered == enoughForms {
			kill(answered == k.n)
		}
	})
	if k.after > 0 {
		time.AfterFunc(k.after, func() { kill(true) })
	}
	time.AfterFunc(patience, func() { kill(false) })
	reached := <-killed
	box.watch(nil)
	stop()
	return reached
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

// checkPlans asks for a plan of every boat, and that the shop finds nothing
// wrong with itself but booked days on which nobody worked.
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
	untilSound(t, s, "and no work is recorded")
}

// untilSound lets the daemon make up for what it was kept from, such as the
// day's backup, until the shop finds nothing wrong with itself, or only what has one
// of these words.
func untilSound(t *testing.T, s *testShop, but ...string) {
	t.Helper()
	d := s.serve(t)
	tick := time.NewTicker(200 * time.Millisecond)
	defer tick.Stop()
	var out []byte
	for end := time.Now().Add(patience); time.Now().Before(end); <-tick.C {
		var err error
		if out, err = exec.Command(program, "check", "--config", s.config(), "--today", s.today).Output(); err == nil || onlyAbout(string(out), but) {
			d.stop(t)
			return
		}
	}
	t.Errorf("the shop stays unsound:\n%s", out)
}

// onlyAbout reports whether all findings of "check" have one of these words.
func onlyAbout(out string, words []string) bool {
	for line := range strings.Lines(out) {
		found := strings.Contains(line, ", by bellbuoy ") // how many there are
		for _, w := range words {
			found = found || strings.Contains(line, w)
		}
		if !found {
			return false
		}
	}
	return strings.Contains(out, ", by bellbuoy ")
}

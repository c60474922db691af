//go:build linux

package app_test

import (
	"bytes"
	"cmp"
	"context"
	"errors"
	"flag"
	"fmt"
	"log/slog"
	"math/rand/v2"
	"net/mail"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync/atomic"
	"syscall"
	"testing"
	"time"

	"github.com/emersion/go-smtp"

	"bellbuoy/cmd/bellbuoy/internal/app"
	"bellbuoy/cmd/bellbuoy/internal/config"
	"bellbuoy/cmd/bellbuoy/internal/figures"
	"bellbuoy/notify/send"
	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/testkit"
	"bellbuoy/store"
	"bellbuoy/store/outbox"
)

// The troubled decade: so many boats, so many years, and what chance decides. All of
// it takes hours: go test -run TroubledDecade -troubled 300 -years 10 -timeout 4h.
var (
	troubledBoats = flag.Int("troubled", 20, "boats of the troubled decade")
	troubledYears = flag.Int("years", 2, "years of the troubled decade")
	troubledStory = flag.Bool("story", false, "tell what happens in the troubled decade")
	troubledSeed  = flag.Uint64("seed", 1, "chance of the troubled decade")
	troubledShop  = flag.String("shop", "", "file of further settings of the troubled decade's shop")
)

// roomy is a disk with room for 2,000 boats, ten years and the backups of them.
const roomy = "16g"

// TestTroubledDecade lives the decade with customers who reply, stop, sell and move,
// with staff who press the wrong thing and take it back, and with faults: a mail server
// that refuses, hangs and drops the line behind the dot, a daemon that is killed in
// the middle of a turn, a clock that leaps by hours and by a day, a disk that is full
// for an hour. Whatever happens, nothing that falls due is in no visit; nobody gets an
// email after a stop, and nobody the same step of a visit twice; what the server took
// is sent or in doubt; and the money is that of the work that was acknowledged.
func TestTroubledDecade(t *testing.T) {
	if testing.Short() {
		t.Skip("the years take a minute")
	}
	s := newTroubled(t, *troubledBoats, *troubledSeed)
	for n := range *troubledYears * 52 {
		s.troubledWeek()
		if n%4 == 3 {
			s.compareOutlines()
		}
		if n%52 == 51 {
			s.checkPaid()
			t.Logf("%s: %v", s.today, s.happened)
		}
	}
	s.quiet()
	s.checkMail()
	s.checkFile()
	s.report()
	for _, what := range []string{"drops behind the dot", "server refuses", "server hangs", "killed at the dot", "cut short", "clock leaps", "disk full", "press taken back", "stops", "takes a day", "sells", "moves", "notices by outline"} {
		if s.happened[what] == 0 {
			t.Errorf("%q never happened", what)
		}
	}
}

// troubled is a decade with its faults.
type troubled struct {
	*decade
	cfg   *config.Config
	dir   string // on a disk in memory that can be made full
	relay *relay
	way   *send.Sender
	now   time.Time

	moment   int              // counts what happens, as the clock leaps
	arrived  map[string][]int // by Message-ID, the moments at which the server took it
	stopped  map[string]int   // customers who want no email, since which moment
	paid     map[string]schedule.Cents
	forms    int
	happened map[string]int
}

func newTroubled(t *testing.T, boats int, seed uint64) *troubled {
	t.Helper()
	testkit.Needs(t, os.Getuid() == 0, "root, to mount a disk in memory,")
	s := &troubled{dir: t.TempDir(), relay: serveRelay(t), arrived: map[string][]int{}, stopped: map[string]int{}, paid: map[string]schedule.Cents{}, happened: map[string]int{}}
	err := syscall.Mount("tmpfs", s.dir, "tmpfs", 0, "size="+roomy)
	testkit.Needs(t, err == nil, "the right to mount a disk in memory")
	t.Cleanup(func() {
		if s.decade != nil {
			err = s.h.Close()
		}
		if err := errors.Join(err, syscall.Unmount(s.dir, syscall.MNT_DETACH)); err != nil {
			t.Error(err)
		}
	})
	path, more := filepath.Join(s.dir, "bellbuoy.toml"), []byte{}
	if *troubledShop != "" {
		if more, err = os.ReadFile(*troubledShop); err != nil {
			t.Fatal(err)
		}
	}
	if err := os.WriteFile(path, []byte(settings(3+boats/40, string(more))), 0o600); err != nil {
		t.Fatal(err)
	}
	if s.cfg, err = config.Load(path); err != nil {
		t.Fatal(err)
	}
	a, err := app.Open(t.Context(), s.cfg)
	if err != nil {
		t.Fatal(err)
	}
	takeDemo(t, a, boats, 2, decadeStart)
	s.decade = liveIn(t, a, rand.New(rand.NewPCG(seed, 7)))
	s.charge = s.chargeLine
	s.newSender()
	s.goodServer()
	s.switchOn()
	s.countPaid()
	return s
}

// countPaid takes over what the invented history holds.
func (s *troubled) countPaid() {
	err := s.h.DB.EachFacts(s.t.Context(), nil, func(f *schedule.Facts) error {
		for i := range f.Records {
			s.count(&f.Records[i], 1)
		}
		return nil
	})
	if err != nil {
		s.t.Fatal(err)
	}
}

// count adds a line to the money of its year, or with -1 takes it off.
func (s *troubled) count(r *schedule.Record, times schedule.Cents) {
	if r.By == schedule.ByShop && r.Amount > 0 {
		s.paid[r.Day.String()[:4]] += times * r.Amount
	}
}

func (s *troubled) chargeLine(r *schedule.Record) {
	r.Amount = schedule.Cents(1000 + s.rng.IntN(40000))
	s.count(r, 1)
}

// newSender is what a daemon has after its start.
func (s *troubled) newSender() {
	var err error
	s.way, err = send.New(outbox.NewQueue(s.h.Writer()), send.Config{Server: s.relay.address, Security: send.NoTLS, Hello: "shop.example", Lanes: 1})
	if err != nil {
		s.t.Fatal(err)
	}
}

// reopen is the daemon's next start.
func (s *troubled) reopen() {
	var err error
	if s.h, err = app.Open(context.WithoutCancel(s.t.Context()), s.cfg); err != nil {
		s.t.Fatal(err)
	}
	s.newSender()
}

// troubledWeek is a week of the decade, with two days on which people do something
// and the daemon has a turn in trouble.
func (s *troubled) troubledWeek() {
	monday := s.today
	s.week()
	for _, day := range []civil.Day{3, 4} {
		s.now = (monday + day).At(10, 0, s.h.Config.Zone())
		for range 1 + len(s.ids)/100 {
			s.somebody()
		}
		s.wrongPress()
		s.turn()
	}
	s.now = (monday + 5).At(9, 0, s.h.Config.Zone())
	s.lookAfterMail()
}

// lookAfterMail is the desk, which lets the queue go on.
func (s *troubled) lookAfterMail() {
	st, err := outbox.Sending(s.t.Context(), s.h.DB)
	if err != nil {
		s.t.Fatal(err)
	}
	if !st.Open() {
		s.happened["queue paused"]++
		if err = s.h.JudgeRefused(s.t.Context(), s.now, "Inge", false); errors.Is(err, store.ErrRefused) { // no address was refused
			err = nil
		}
		err = errors.Join(err, s.h.Release(s.t.Context(), s.now, "Inge"))
	}
	if err != nil {
		s.t.Fatal(err)
	}
}

// turn is one turn of the daemon with at most one fault.
func (s *troubled) turn() {
	fault := s.rng.IntN(10)
	s.logf("%s: a turn with fault %d", s.now, fault)
	switch fault {
	case 0:
		s.happened["clock leaps"]++
		at := s.now
		s.now = s.now.Add(time.Duration(s.rng.IntN(53)-26) * time.Hour)
		s.tick(s.t.Context(), true)
		s.now = at
	case 1:
		s.happened["cut short"]++
		s.cutShort()
	case 2:
		s.happened["disk full"]++
		s.diskFull()
	case 3:
		s.killAtTheDot()
	case 4, 5, 6:
		s.badServer(fault)
		s.tick(s.t.Context(), true)
	}
	s.goodServer()
	if fault != 7 { // no turn at all: the daemon was off
		s.tick(s.t.Context(), true)
	}
}

// tick is the daemon's turn; with must it has to go well.
func (s *troubled) tick(ctx context.Context, must bool) {
	now, log := func() time.Time { return s.now }, slog.New(slog.DiscardHandler)
	err := errors.Join(s.h.Tick(ctx, now, log, figures.Job(s.h)), s.h.Send(ctx, now, s.way, log))
	if err != nil && must {
		s.t.Fatalf("%s: %v", s.now, err)
	}
}

// take notes what the server took.
func (s *troubled) take(message []byte) {
	m, err := mail.ReadMessage(bytes.NewReader(message))
	if err != nil {
		s.t.Errorf("a letter cannot be read: %v", err)
		return
	}
	id := m.Header.Get("Message-Id")
	id = strings.Trim(id, "<>")
	s.moment++
	s.arrived[id] = append(s.arrived[id], s.moment)
	s.logf("%s: the server takes %s for %s", s.now, id, m.Header.Get("To"))
}

func (s *troubled) goodServer() {
	s.relay.answers(nil, func(_ string, message []byte) error {
		s.take(message)
		return nil
	})
}

// badServer is a mail server that refuses, or drops the line behind the dot.
func (s *troubled) badServer(fault int) {
	n := 0
	bad := s.rng.IntN(3)
	answers := []*smtp.SMTPError{
		saying(451, smtp.EnhancedCode{4, 3, 0}, "try again later"), saying(550, smtp.EnhancedCode{5, 7, 1}, "blocked by policy"), saying(550, smtp.EnhancedCode{5, 1, 1}, "no such user"),
	}
	s.relay.answers(nil, func(_ string, message []byte) error {
		if n++; n <= bad {
			s.take(message)
			return nil
		}
		if fault == 4 {
			s.happened["server refuses"]++
			return answers[(n+bad)%3]
		}
		s.happened["drops behind the dot"]++
		if n%2 == 0 {
			s.take(message) // and nobody hears of it
		}
		return errDrop
	})
}

// cutContext ends after it was asked so many times: a turn is cut short in its
// middle, and at the same place when the test runs again.
type cutContext struct {
	context.Context
	left *atomic.Int64
	end  context.CancelFunc
}

func (c cutContext) Done() <-chan struct{} {
	if c.left.Add(-1) == 0 {
		c.end()
	}
	return c.Context.Done()
}

// cutShort has a daemon told to stop in the middle of a turn, and started again.
func (s *troubled) cutShort() {
	ctx, end := context.WithCancel(s.t.Context())
	defer end()
	left := &atomic.Int64{}
	left.Store(int64(1 << s.rng.IntN(12)))
	s.goodServer()
	s.tick(cutContext{ctx, left, end}, false)
	if err := s.h.Close(); err != nil {
		s.t.Fatal(err)
	}
	s.reopen()
}

// killAtTheDot is the kill of a daemon whose letter is with the server, and its next
// start: the file is as the kill left it. With luck the letter was taken. The
// server may also just hang until somebody kills the daemon.
func (s *troubled) killAtTheDot() {
	ctx, end := context.WithCancel(s.t.Context())
	defer end()
	file := s.cfg.Path(s.cfg.Files.Database)
	luck, hangs, killed := s.rng.IntN(2) == 0, s.rng.IntN(2) == 0, false
	s.relay.answers(nil, func(_ string, message []byte) error {
		if killed {
			return errDrop
		}
		killed = true
		if luck {
			s.take(message)
		}
		for _, end := range []string{"", "-wal"} {
			s.copyFile(file+end, file+end+".killed")
		}
		end()
		if hangs {
			s.happened["server hangs"]++
			time.Sleep(20 * time.Millisecond)
		}
		return errDrop
	})
	s.tick(ctx, false)
	if !killed {
		return
	}
	s.happened["killed at the dot"]++
	if err := s.h.Close(); err != nil {
		s.t.Fatal(err)
	}
	_ = os.Remove(file + "-wal")
	_ = os.Remove(file + "-shm")
	for _, end := range []string{"", "-wal"} {
		if err := os.Rename(file+end+".killed", file+end); err != nil {
			s.t.Fatal(err)
		}
	}
	s.reopen()
}

func (s *troubled) copyFile(from, to string) {
	text, err := os.ReadFile(from)
	if err == nil {
		err = os.WriteFile(to, text, 0o600)
	}
	if err != nil {
		s.t.Error(err)
	}
}

// diskFull leaves no room on the disk for an hour. Turns fail or have nothing to
// write; a form is acknowledged and kept, or refused with what to do.
func (s *troubled) diskFull() {
	var fs syscall.Statfs_t
	if err := syscall.Statfs(s.dir, &fs); err != nil {
		s.t.Fatal(err)
	}
	s.resize(fmt.Sprint((int64(fs.Blocks) - int64(fs.Bfree)) * fs.Bsize))
	s.goodServer()
	s.tick(s.t.Context(), false)
	id := s.ids[s.rng.IntN(len(s.ids))]
	r := schedule.Record{BoatID: id, Day: s.h.Day(s.now), Service: "hull-wash", By: schedule.ByShop, Amount: 4200}
	if _, err := s.h.Record(s.t.Context(), s.now, "Inge", s.form(), &store.Work{BoatID: id, Records: []schedule.Record{r}}, true); err == nil {
		s.count(&r, 1)
	} else if store.Advice(err) == "" {
		s.t.Errorf("%s: a full disk refuses a form with %v", s.now, err)
	} else {
		s.happened["form refused by a full disk"]++
	}
	s.now = s.now.Add(time.Hour)
	s.resize(roomy)
}

func (s *troubled) resize(size string) {
	if err := syscall.Mount("tmpfs", s.dir, "tmpfs", syscall.MS_REMOUNT, "size="+size); err != nil {
		s.t.Fatal(err)
	}
}

func (s *troubled) form() string {
	s.forms++
	return fmt.Sprint("form ", s.forms)
}

// wrongPress is somebody of the staff who enters something and takes it back. The
// boat is then as it was when the day began, which lets go of booked days that passed.
func (s *troubled) wrongPress() {
	ctx, day := s.t.Context(), s.h.Day(s.now)
	if _, err := s.h.Settle(ctx, s.now, day, nil); err != nil {
		s.t.Fatal(err)
	}
	id := s.ids[s.rng.IntN(len(s.ids))]
	before := s.facts(id)
	var err error
	switch s.rng.IntN(3) {
	case 0:
		w := store.Work{BoatID: id, Records: []schedule.Record{{BoatID: id, Day: day, Service: "hull-wash", By: schedule.ByShop, Amount: 9900}}}
		if _, err = s.h.Record(ctx, s.now, "Inge", s.form(), &w, true); err == nil {
			_, err = s.h.TakeBackWork(ctx, s.now.Add(time.Minute), "Inge", s.form(), store.Mistake{BoatID: id, Records: w.Records})
		}
	case 1:
		var v *schedule.Visit
		if v = s.openVisit(id); v == nil {
			return
		}
		if _, err = s.h.Book(ctx, s.now, "Inge", schedule.Booking{VisitID: v.ID, BoatID: id, Kind: v.Kind, Day: v.Week.Monday() + 1, Minute: -1, Over: true}, nil, true); err == nil {
			_, err = s.h.Unbook(ctx, s.now.Add(time.Minute), "Inge", id, v.ID, nil, nil)
		}
	case 2:
		owner, err2 := s.h.OwnerOf(ctx, id)
		if err = err2; err != nil || owner.ID == "" || s.stopped[owner.ID] != 0 {
			break
		}
		if err = s.h.ChooseMails(ctx, s.now, "Inge", owner.ID, true, true); err == nil {
			err = s.h.ChooseMails(ctx, s.now.Add(time.Minute), "Inge", owner.ID, false, false)
		}
	}
	if err != nil {
		s.happened["press refused"]++
		if !errors.Is(err, store.ErrRefused) && !errors.Is(err, store.ErrStale) && !errors.Is(err, store.ErrNotFound) {
			s.t.Fatalf("%s: a press at boat %s: %v", s.now, id, err)
		}
		return
	}
	s.happened["press taken back"]++
	if after := s.facts(id); after != before {
		s.t.Errorf("%s: a press was taken back and boat %s is not as it was:\n%s\n%s", s.now, id, before, after)
	}
}

// facts are those that people enter about a boat, as text.
func (s *troubled) facts(id string) string {
	f, err := s.h.Facts(s.t.Context(), id)
	if err != nil {
		s.t.Fatal(err)
	}
	return fmt.Sprintf("%+v", []any{f.Boat, f.Components, f.Retired, f.Records, f.Readings, f.FollowUps, f.Overrides, f.Bookings})
}

// openVisit is the next visit of a boat that is penciled into a week to come.
func (s *troubled) openVisit(id string) *schedule.Visit {
	plan, err := s.h.DB.Plan(s.t.Context(), id)
	if err != nil {
		s.t.Fatal(err)
	}
	today := s.h.Day(s.now)
	slices.SortFunc(plan.Visits, func(a, b schedule.Visit) int { return cmp.Compare(a.Week, b.Week) })
	for i := range plan.Visits {
		if v := &plan.Visits[i]; v.Week > today.Week() && !v.Booked() && !v.Lapsed {
			return v
		}
	}
	return nil
}

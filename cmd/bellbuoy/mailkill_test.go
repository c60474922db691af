package main

import (
	"bytes"
	"database/sql"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"sync/atomic"
	"syscall"
	"testing"
	"time"

	_ "modernc.org/sqlite"

	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/store/outbox"
	"bellbuoy/store/storetest"
)

// killStages are the moments at which a sender is killed: before its letter is
// named, after the recipient, in the middle of the letter, after the final dot
// (with a server that then has the letter, and with one that does not), and
// after the answer, before that could be written down.
var killStages = []struct {
	name      string
	at        mailStage
	lost      bool // the server goes down with the sender and has no letter
	holding   bool // nothing can be written down from this moment on
	uncertain bool // nobody can know whether it arrived
}{
	{"before MAIL", stageHello, true, false, false},
	{"after RCPT", stageRcpt, false, false, false},
	{"in the letter", stageBody, true, false, false},
	{"after the dot, taken", stageAccepted, false, false, true},
	{"after the dot, not taken", stageDot, true, false, true},
	{"after the answer", stageAccepted, false, true, true},
}

// killsEach is how often each stage is tried: BELLBUOY_KILLS, or twice.
func killsEach(t *testing.T) int {
	t.Helper()
	said := os.Getenv("BELLBUOY_KILLS")
	if said == "" {
		return 2
	}
	n, err := strconv.Atoi(said)
	if err != nil || n < 1 {
		t.Fatalf("BELLBUOY_KILLS=%q: want how often", said)
	}
	return n
}

// TestSenderKilledAtEveryStage kills "mail send" again and again at each stage,
// before a server that counts. No letter is lost, none is delivered twice, and
// exactly those killed after their dot are uncertain.
func TestSenderKilledAtEveryStage(t *testing.T) {
	if testing.Short() {
		t.Skip("kills many senders")
	}
	each := killsEach(t)
	s, box, day := sendingShop(t, "")
	total := each*len(killStages) + 3
	queueLetters(t, s, day, total, longLetter)
	wantUncertain, wantLost := 0, 0
	for _, k := range killStages {
		for range each {
			s.killSending(t, box, k.at, k.lost, k.holding)
			if k.uncertain {
				wantUncertain++
			}
			if k.uncertain && k.lost {
				wantLost++
			}
			day++ // the lease of the dead runs out
			s.today = day.String()
		}
	}
	for range 10 {
		s.do(t, "mail", "send")
		day++
		s.today = day.String()
	}
	counts, lost := s.tally(t, box)
	if counts[schedule.MessageUncertain] != wantUncertain || counts[schedule.MessageSent] != total-wantUncertain || lost != wantLost {
		t.Errorf("%v, of the uncertain %d did not arrive; want %d uncertain, of them %d not arrived, %d sent", counts, lost, wantUncertain, wantLost, total-wantUncertain)
	}
	if out := s.do(t, "mail", "status"); !strings.Contains(out, fmt.Sprintf("%d uncertain", wantUncertain)) {
		t.Errorf("mail status says %s", out)
	}
	t.Logf("%d kills at each of %d stages: %v; of the uncertain %d did not arrive", each, len(killStages), counts, lost)
}

// lanesHere is how many connections a mail server on this machine gets, and so
// how many letters can be in doubt after one kill.
const lanesHere = 16

// TestSenderKilledInFullSwing kills "mail send" while it has many letters under
// way over several connections, at a letter and a stage that chance picks. No
// letter is lost and none is accepted twice; in doubt is at most one for each
// connection, and of those that were accepted none is tried again.
func TestSenderKilledInFullSwing(t *testing.T) {
	if testing.Short() {
		t.Skip("kills many senders")
	}
	rng := rand.New(rand.NewPCG(9, 27))
	kills := 3 * killsEach(t)
	s, box, day := sendingShop(t, "per_minute = 0\n") // a minute's ration would need two connections at the most
	total := 60 * (kills + 1)
	queueLetters(t, s, day, total, 40)
	doubts := 0
	for range kills {
		stage := []mailStage{stageMail, stageRcpt, stageBody, stageDot, stageAccepted}[rng.IntN(5)]
		nth := 5 + rng.IntN(40)
		s.killSendingAt(t, box, stage, nth)
		day++ // the leases of the dead run out
		s.today = day.String()
		h := s.open(t)
		if _, _, err := outbox.Recover(t.Context(), storetest.Writer(t, h.DB), day.At(9, 0, h.Config.Zone())); err != nil {
			t.Fatal(err)
		}
		n := letters(t, s)[schedule.MessageUncertain]
		t.Logf("killed at the %d-th %q: %d in doubt", nth, stage, n-doubts)
		if n-doubts > lanesHere {
			t.Errorf("%d letters are in doubt after one kill, want at most %d", n-doubts, lanesHere)
		}
		doubts = n
	}
	for range kills + 3 {
		s.do(t, "mail", "send")
		day++
		s.today = day.String()
	}
	counts, lost := s.tally(t, box)
	if counts[schedule.MessageSent]+counts[schedule.MessageUncertain] != total || counts[schedule.MessageUncertain] != doubts {
		t.Errorf("%v of %d, %d in doubt after the kills", counts, total, doubts)
	}
	t.Logf("%d kills: %v; of the uncertain %d did not arrive", kills, counts, lost)
}

// sendingShop is a shop without boats that may send, with more lines about its
// mail, and the day on which it does.
func sendingShop(t *testing.T, moreMail string) (*testShop, *mailbox, civil.Day) {
	t.Helper()
	box := newMailbox(t)
	s := newShop(t, strings.Replace(demoSettings("127.0.0.1:8410", box.address, false), "[mail]\n", "[mail]\n"+moreMail, 1))
	day := civil.Of(2027, 4, 5)
	s.today = day.String()
	s.doWith(t, strings.NewReader("a long enough password\n"), "staff", "add", "Inge", "--role", "desk") // makes the database
	s.do(t, "mail", "on")
	return s, box, day
}

// tally counts the letters by what is on file of them. One that is sent was
// accepted once; of the uncertain ones, none of which was accepted twice, it
// counts those that were not accepted at all.
func (s *testShop) tally(t *testing.T, box *mailbox) (counts map[schedule.MessageState]int, lost int) {
	t.Helper()
	copies := box.copies()
	counts = map[schedule.MessageState]int{}
	eachLetter(t, s.open(t), func(l *schedule.Message) {
		n := copies["<"+l.MessageID+">"]
		counts[l.State]++
		switch {
		case l.State == schedule.MessageSent && n == 1:
		case l.State == schedule.MessageUncertain && n <= 1:
			lost += 1 - n
		default:
			t.Errorf("letter %d is %s and was accepted %d times", l.ID, l.State, n)
		}
	})
	return counts, lost
}

// sending starts "mail send" and waits until watch has had it killed. watch is
// called at every stage that the server sees, with a call that kills; what names
// the stage in the message if it never comes.
func (s *testShop) sending(t *testing.T, box *mailbox, what string, watch func(stage mailStage, kill func(then ...func())) bool) {
	t.Helper()
	var said bytes.Buffer
	cmd := exec.Command(program, "--config", s.config(), "--today", s.today, "mail", "send")
	cmd.Stdout, cmd.Stderr = &said, &said
	started, killed := make(chan struct{}), make(chan struct{})
	kill := func(then ...func()) {
		_ = cmd.Process.Signal(syscall.SIGKILL)
		_ = cmd.Wait()
		for _, f := range then {
			f()
		}
		close(killed)
	}
	box.watch(func(stage mailStage) bool {
		<-started // cmd is not to be touched before Start has returned
		return watch(stage, kill)
	})
	defer box.watch(nil)
	err := cmd.Start()
	close(started)
	if err != nil {
		t.Fatal(err)
	}
	select {
	case <-killed:
	case <-time.After(patience):
		_ = cmd.Process.Kill()
		t.Fatalf("%s never came: %s", what, said.Bytes())
	}
}

// killSendingAt kills "mail send" when the server sees a stage for the n-th time.
// What is on its way by then still arrives.
func (s *testShop) killSendingAt(t *testing.T, box *mailbox, at mailStage, n int) {
	t.Helper()
	var seen atomic.Int64
	s.sending(t, box, fmt.Sprintf("stage %d of %s", n, at), func(stage mailStage, kill func(then ...func())) bool {
		if stage == at && seen.Add(1) == int64(n) {
			kill()
		}
		return true
	})
}

// longLetter has more lines than the network holds by itself, so that a sender
// whose server reads no further is still in the middle of it.
const longLetter = 400_000

// queueLetters puts so many reminders into the outbox of a shop. The first may be
// long: it is the one that is killed before its dot, and taken up again, until
// the stages after the dot come. As long as none has gone out there is one
// connection only.
func queueLetters(t *testing.T, s *testShop, day civil.Day, n, first int) {
	t.Helper()
	h := s.open(t)
	now := day.At(9, 0, h.Config.Zone())
	letters := make([]outbox.NewMessage, n)
	for i := range letters {
		lines := 40
		if i == 0 {
			lines = first
		}
		id := fmt.Sprintf("kill%d@lindrake.example", i)
		raw := "Message-ID: <" + id + ">\r\nSubject: a reminder\r\n\r\n" + strings.Repeat("It is time for the boat.\r\n", lines)
		letters[i].Message = schedule.Message{
			Key: id, CustomerID: fmt.Sprint("C", i), To: fmt.Sprintf("c%d@example.com", i), From: "service@lindrake.example",
			Step: schedule.StepInvitation, MessageID: id, Raw: []byte(raw), NextAt: now.Add(time.Duration(i) * time.Second),
		}
	}
	if got, err := outbox.Enqueue(t.Context(), storetest.Writer(t, h.DB), now, letters); err != nil || got != n {
		t.Fatalf("%d queued, %v", got, err)
	}
	if err := h.Close(); err != nil {
		t.Fatal(err)
	}
}

// killSending kills "mail send" when the server sees a stage for the first time.
// With holding, nothing can be written down after that, and the kill comes when
// the server has answered.
func (s *testShop) killSending(t *testing.T, box *mailbox, at mailStage, lost, holding bool) {
	t.Helper()
	once := false
	s.sending(t, box, string(at), func(stage mailStage, kill func(then ...func())) bool {
		if stage != at || once {
			return !once || !lost
		}
		once = true
		if holding {
			release := holdFile(t, filepath.Join(s.dir, "bellbuoy.db"))
			go func() {
				<-time.After(30 * time.Millisecond) // the answer is on its way
				kill(release)
			}()
			return true
		}
		kill()
		return !lost
	})
}

// holdFile keeps everybody else from writing to a database.
func holdFile(t *testing.T, path string) (release func()) {
	db, err := sql.Open("sqlite", "file:"+path+"?_txlock=immediate&_pragma=busy_timeout(5000)")
	if err != nil {
		t.Error(err)
		return func() {}
	}
	tx, err := db.BeginTx(t.Context(), nil)
	if err != nil {
		t.Error(err)
	}
	return func() {
		if tx != nil {
			_ = tx.Rollback()
		}
		_ = db.Close()
	}
}

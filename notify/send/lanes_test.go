package send_test

import (
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"strings"
	"sync"
	"testing"
	"time"

	"bellbuoy/notify/send"
	"bellbuoy/schedule"
)

func lanes(n int) func(*send.Config) {
	return func(c *send.Config) {
		c.Lanes, c.Command, c.AfterDot, c.BeforeDot = n, patience, patience, patience
	}
}

// patience is how long a test waits for what should come at once.
const patience = time.Minute

// states are the letters' states in order, with the attempts that each has lost.
func (b *fakeBox) states() string {
	b.mu.Lock()
	defer b.mu.Unlock()
	var all []string
	for _, l := range b.letters {
		all = append(all, fmt.Sprintf("%s/%d", l.State, l.Attempts))
	}
	return strings.Join(all, " ")
}

// TestLanesSendEachLetterOnce drains many letters, some of which are refused,
// over several connections. Each arrives once and whole, and the counts add up.
func TestLanesSendEachLetterOnce(t *testing.T) {
	const n = 120
	rng := rand.New(rand.NewPCG(9, 3))
	rules, want := script{}, send.Result{}
	wantState := map[int64]schedule.MessageState{}
	for i := int64(1); i <= n; i++ {
		rcpt := fmt.Sprintf("RCPT TO:<c%d@mail.example>", i)
		switch rng.IntN(6) {
		case 0:
			rules[rcpt], wantState[i] = []string{"550 5.1.1 no"}, schedule.MessageRefused
			want.Refused++
		case 1:
			rules[rcpt], wantState[i] = []string{"450 4.2.0 later"}, schedule.MessageDeferred
			want.Deferred++
		default:
			wantState[i] = schedule.MessageSent
			want.Sent++
		}
	}
	srv := serveScript(t, rules)
	box := newBox(n)
	res, err := newSender(t, box, srv, lanes(5)).Drain(t.Context(), at(senderNow), 1000)
	if err != nil || res != want {
		t.Errorf("%+v, %v; want %+v", res, err, want)
	}
	arrived := map[string]int{}
	for _, m := range srv.took() {
		arrived[m]++
	}
	for _, l := range box.letters {
		copies := 0
		if wantState[l.ID] == schedule.MessageSent {
			copies = 1
		}
		if l.State != wantState[l.ID] || arrived[string(l.Raw)] != copies {
			t.Errorf("letter %d is %s and arrived %d times; want %s, %d", l.ID, l.State, arrived[string(l.Raw)], wantState[l.ID], copies)
		}
	}
	if got := srv.connections(); got < 2 || got > 5 {
		t.Errorf("%d connections, want several and at most 5", got)
	}
}

// TestLanesKeepTheCap: however many lanes there are, no letter more than allowed
// is claimed.
func TestLanesKeepTheCap(t *testing.T) {
	for _, most := range []int{0, 1, 7, 60, 199} {
		srv := serveScript(t, script{})
		box := newBox(200)
		res, err := newSender(t, box, srv, lanes(6)).Drain(t.Context(), at(senderNow), most)
		if err != nil || res != (send.Result{Sent: most}) || len(srv.took()) != most || box.tokens != most {
			t.Errorf("at most %d: %+v, %v, %d arrived, %d claimed", most, res, err, len(srv.took()), box.tokens)
		}
	}
}

// TestFewLettersFewConnections: a second connection is opened only when a first
// letter has been brought and another waits.
func TestFewLettersFewConnections(t *testing.T) {
	srv := serveScript(t, script{})
	if res, err := newSender(t, newBox(1), srv, lanes(8)).Drain(t.Context(), at(senderNow), 10); err != nil || res.Sent != 1 {
		t.Fatalf("%+v, %v", res, err)
	}
	if got := srv.connections(); got != 1 {
		t.Errorf("%d connections for one letter, want one", got)
	}
}

// TestAMinutesRationNeedsFewConnections: each is one more letter that a crash can
// leave in doubt.
func TestAMinutesRationNeedsFewConnections(t *testing.T) {
	srv := serveScript(t, script{})
	if res, err := newSender(t, newBox(200), srv, lanes(8)).Drain(t.Context(), at(senderNow), 60); err != nil || res.Sent != 60 {
		t.Fatalf("%+v, %v", res, err)
	}
	if got := srv.connections(); got > 2 {
		t.Errorf("%d connections for sixty letters, want two at the most", got)
	}
}

// TestStopReachesAllLanes has four lanes at work: one letter at its dot, two that
// wait for an answer to their recipient, and one whose answer stops everything.
// The first goes out, the two are as if they had never been claimed.
func TestStopReachesAllLanes(t *testing.T) {
	for answer, pause := range map[string]bool{"421 4.3.2 going down": false, "550 5.7.25 no reverse name": true} {
		t.Run(answer, func(t *testing.T) {
			ready := map[string]chan struct{}{"4": make(chan struct{}), "5": make(chan struct{}), "7": make(chan struct{})}
			srv := listenScript(t, script{"RCPT TO:<c5@mail.example>": {"stall"}, "RCPT TO:<c6@mail.example>": {answer}, "RCPT TO:<c7@mail.example>": {"stall"}})
			srv.before = func(line string) {
				switch line {
				case "RCPT TO:<c5@mail.example>":
					close(ready["5"])
				case "RCPT TO:<c7@mail.example>":
					close(ready["7"])
				case "RCPT TO:<c6@mail.example>":
					for _, r := range ready {
						<-r
					}
				}
			}
			srv.start()
			box := &atDotBox{fakeBox: newBox(9), id: 4, reached: ready["4"], stopped: make(chan struct{})}
			// A letter that was tried before keeps what is known of that.
			box.letters[4].State, box.letters[4].Attempts, box.letters[4].Code = schedule.MessageDeferred, 2, 450
			box.letters[4].NextAt = senderNow.Add(-time.Hour)
			res, err := newSender(t, box, srv, lanes(4)).Drain(t.Context(), at(senderNow), 1000)
			if err != nil || res.Sent != 4 || res.Deferred != 1 || !strings.Contains(res.Stopped, answer[10:]) {
				t.Errorf("%+v, %v", res, err)
			}
			if got, want := box.states(), "sent/1 sent/1 sent/1 sent/1 queued/2 deferred/1 queued/0 queued/0 queued/0"; got != want {
				t.Errorf("the letters are %s, want %s", got, want)
			}
			if l := box.letters[4]; l.Code != 450 || !l.NextAt.Equal(senderNow.Add(-time.Hour)) {
				t.Errorf("the letter that was put back is not as it was: %d, %s", l.Code, l.NextAt)
			}
			if len(srv.took()) != 4 || box.tokens != 7 || box.paused != pause {
				t.Errorf("%d arrived, %d were claimed, paused %t; want 4, 7, %t", len(srv.took()), box.tokens, box.paused, pause)
			}
		})
	}
}

// atDotBox keeps one letter at its dot until another letter's outcome is
// recorded that is neither sent nor put back.
type atDotBox struct {
	*fakeBox
	id               int64
	reached, stopped chan struct{}
	once             sync.Once
}

func (b *atDotBox) MarkDot(ctx context.Context, id int64, token string, now time.Time) error {
	if id == b.id {
		close(b.reached)
		<-b.stopped
	}
	return b.fakeBox.MarkDot(ctx, id, token, now)
}

func (b *atDotBox) RecordOutcome(ctx context.Context, id int64, token string, o schedule.Outcome, now time.Time) error {
	err := b.fakeBox.RecordOutcome(ctx, id, token, o, now)
	if o.State == schedule.MessageDeferred {
		b.once.Do(func() { close(b.stopped) })
	}
	return err
}

// TestShutdownOfAllLanes asks for a shutdown while one letter is at its dot: that
// one goes out, and no letter is left leased.
func TestShutdownOfAllLanes(t *testing.T) {
	ctx, cancel := context.WithCancel(t.Context())
	srv := serveScript(t, script{})
	box := &shutBox{fakeBox: newBox(30), at: 12, cancel: cancel}
	res, err := newSender(t, box, srv, lanes(4)).Drain(ctx, at(senderNow), 1000)
	if err != nil || res.Stopped != "shutting down" || box.letters[11].State != schedule.MessageSent || res.Sent != len(srv.took()) {
		t.Errorf("%+v, %v, %d arrived", res, err, len(srv.took()))
	}
	count := map[schedule.MessageState]int{}
	for _, l := range box.letters {
		count[l.State]++
	}
	if count[schedule.MessageSent] != res.Sent || count[schedule.MessageDeferred] > 3 ||
		count[schedule.MessageSent]+count[schedule.MessageDeferred]+count[schedule.MessageQueued] != 30 {
		t.Errorf("%v, %+v", count, res)
	}
}

// shutBox asks for a shutdown at the dot of one letter.
type shutBox struct {
	*fakeBox
	at     int64
	cancel context.CancelFunc
}

func (b *shutBox) MarkDot(ctx context.Context, id int64, token string, now time.Time) error {
	if id == b.at {
		b.cancel()
	}
	return b.fakeBox.MarkDot(ctx, id, token, now)
}

// TestServerWantsFewerConnections: a server that takes two and no more gets all
// letters over those two.
func TestServerWantsFewerConnections(t *testing.T) {
	srv := serveScript(t, script{"conn": {"220 script", "220 script", "421 4.7.0 too many connections"}})
	box := newBox(40)
	res, err := newSender(t, box, srv, lanes(6)).Drain(t.Context(), at(senderNow), 1000)
	if err != nil || res != (send.Result{Sent: 40}) || len(srv.took()) != 40 {
		t.Errorf("%+v, %v, %d arrived", res, err, len(srv.took()))
	}
	if got := box.states(); strings.Count(got, "sent/1") != 40 {
		t.Errorf("the letters are %s; being put back costs no attempt", got)
	}
}

// TestServerGoesAwayFromAllLanes: the last lane to find that there is no
// connection to be had stops the drain; a letter that was under way waits, the
// others are put back. Each of the three lanes may have one under way; the last
// one to find no connection costs its letter no attempt.
func TestServerGoesAwayFromAllLanes(t *testing.T) {
	srv := serveScript(t, script{
		"conn": {"220 script", "220 script", "220 script", "421 4.3.2 closed"},
		"MAIL": append(strings.Split(strings.Repeat("250 ok|", 20), "|")[:20], "drop"),
	})
	box := newBox(60)
	res, err := newSender(t, box, srv, lanes(3)).Drain(t.Context(), at(senderNow), 1000)
	if err != nil || res.Sent != 20 || res.Deferred < 1 || res.Deferred > 3 || !strings.Contains(res.Stopped, "closed") || len(srv.took()) != 20 {
		t.Errorf("%+v, %v, %d arrived", res, err, len(srv.took()))
	}
	if got := box.states(); strings.Count(got, "sent/1") != 20 || strings.Count(got, "queued/0") != 41-res.Deferred {
		t.Errorf("the letters are %s", got)
	}
}

// TestLostLeaseStopsOneLetter takes some letters away before their dots.
func TestLostLeaseStopsOneLetter(t *testing.T) {
	srv := serveScript(t, script{})
	box := &losingBox{newBox(30)}
	res, err := newSender(t, box, srv, lanes(4)).Drain(t.Context(), at(senderNow), 1000)
	if err != nil || res != (send.Result{Sent: 20}) || len(srv.took()) != 20 {
		t.Errorf("%+v, %v, %d arrived", res, err, len(srv.took()))
	}
}

type losingBox struct{ *fakeBox }

func (b *losingBox) MarkDot(ctx context.Context, id int64, token string, now time.Time) error {
	if id%3 == 0 {
		return schedule.ErrLostLease
	}
	return b.fakeBox.MarkDot(ctx, id, token, now)
}

// TestOutboxFailsUnderLanes: when the outbox cannot mark a dot, that dot does not
// go out, Drain says so, and no other letter is left leased.
func TestOutboxFailsUnderLanes(t *testing.T) {
	srv := serveScript(t, script{})
	broken := errors.New("the disk is full")
	box := &brokenBox{newBox(30), broken}
	res, err := newSender(t, box, srv, lanes(4)).Drain(t.Context(), at(senderNow), 1000)
	if !errors.Is(err, broken) || res.Stopped != "" || res.Sent != len(srv.took()) {
		t.Errorf("%+v, %v, %d arrived", res, err, len(srv.took()))
	}
	for _, l := range box.letters {
		if l.State == schedule.MessageLeased != (l.ID == 9) {
			t.Errorf("letter %d is %s", l.ID, l.State)
		}
	}
}

type brokenBox struct {
	*fakeBox
	err error
}

func (b *brokenBox) MarkDot(ctx context.Context, id int64, token string, now time.Time) error {
	if id == 9 {
		return b.err
	}
	return b.fakeBox.MarkDot(ctx, id, token, now)
}

// TestLaneNeverHasTwoLettersInDoubt: a lane sends no dot before the outcome of
// its letter before is written down, so that a crash leaves at most one a lane.
func TestLaneNeverHasTwoLettersInDoubt(t *testing.T) {
	srv := serveScript(t, script{})
	box := &doubtBox{fakeBox: newBox(40)}
	if res, err := newSender(t, box, srv, lanes(3)).Drain(t.Context(), at(senderNow), 1000); err != nil || res.Sent != 40 {
		t.Fatalf("%+v, %v", res, err)
	}
	if box.most > 3 {
		t.Errorf("%d letters were between their dot and their outcome at once, want at most one for each of three lanes", box.most)
	}
}

type doubtBox struct {
	*fakeBox
	mu2       sync.Mutex
	now, most int
}

func (b *doubtBox) doubt(by int) {
	b.mu2.Lock()
	defer b.mu2.Unlock()
	b.now += by
	b.most = max(b.most, b.now)
}

func (b *doubtBox) MarkDot(ctx context.Context, id int64, token string, now time.Time) error {
	b.doubt(1)
	return b.fakeBox.MarkDot(ctx, id, token, now)
}

func (b *doubtBox) RecordOutcome(ctx context.Context, id int64, token string, o schedule.Outcome, now time.Time) error {
	time.Sleep(2 * time.Millisecond) // as the disk takes its time
	err := b.fakeBox.RecordOutcome(ctx, id, token, o, now)
	b.doubt(-1)
	return err
}

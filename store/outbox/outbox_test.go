package outbox_test

import (
	"errors"
	"fmt"
	"path/filepath"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/store"
	"bellbuoy/store/outbox"
	"bellbuoy/store/storetest"
)

func TestLetterGoesOutOnce(t *testing.T) {
	db := mailing(t)
	want := letter("k1")
	if n := queue(t, db, want, want); n != 1 {
		t.Fatalf("%d queued, want 1: the key is the same", n)
	}
	got, err := outbox.NewQueue(db).Claim(t.Context(), noon, lease)
	if err != nil {
		t.Fatal(err)
	}
	want.ID, want.State, want.Attempts, want.QueuedAt, want.NextAt, want.LeaseToken = got.ID, schedule.MessageLeased, 1, noon, noon, got.LeaseToken
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("letter differs (-queued +claimed):\n%s", diff)
	}
	if _, err := outbox.NewQueue(db).Claim(t.Context(), noon, lease); !errors.Is(err, store.ErrNone) {
		t.Errorf("a leased letter was claimed again: %v", err)
	}
	if err := outbox.NewQueue(db).MarkDot(t.Context(), got.ID, "another", noon); !errors.Is(err, store.ErrLostLease) {
		t.Errorf("a dot with a foreign token: %v", err)
	}
	if err := outbox.NewQueue(db).MarkDot(t.Context(), got.ID, got.LeaseToken, noon); err != nil {
		t.Fatal(err)
	}
	if err := outbox.NewQueue(db).MarkDot(t.Context(), got.ID, got.LeaseToken, noon); !errors.Is(err, store.ErrLostLease) {
		t.Errorf("a second dot: %v", err)
	}
	out := schedule.Outcome{State: schedule.MessageSent, Code: 250, Answer: "queued as 1"}
	if err := outbox.NewQueue(db).RecordOutcome(t.Context(), got.ID, got.LeaseToken, out, noon); err != nil {
		t.Fatal(err)
	}
	if n := queue(t, db, letter("k1")); n != 0 {
		t.Error("a key that was sent could be queued again")
	}
	if n, err := outbox.SentSince(t.Context(), db.Reader, noon.Add(-time.Hour), noon); err != nil || n != 1 {
		t.Errorf("%d sent, %v; want 1", n, err)
	}
	if counts, err := outbox.MessageCounts(t.Context(), db.Reader); err != nil || !cmp.Equal(counts, map[schedule.MessageState]int{schedule.MessageSent: 1}) {
		t.Errorf("counts %v, %v", counts, err)
	}
	heard, err := outbox.Notified(t.Context(), db.Reader, []string{"C1", "C2"})
	if err != nil || len(heard["C1"]) != 1 || len(heard["C2"]) != 0 {
		t.Errorf("heard %v, %v; want one of C1", heard, err)
	}
}

func TestNothingGoesOutUnlessItMay(t *testing.T) {
	for _, c := range []struct {
		name string
		do   func(*store.DB) error
	}{
		{"never switched on", func(db *store.DB) error { return outbox.SetSending(t.Context(), db, noon, "owner", false) }},
		{"held", func(db *store.DB) error { return outbox.Hold(t.Context(), db, noon, "desk", "") }},
		{"address dead", func(db *store.DB) error {
			storetest.Bounce(t, db, "ZOE@example.org", "550 5.1.1")
			return nil
		}},
		{"no reminders", func(db *store.DB) error { return db.SetOptOut(t.Context(), noon, "customer", "C1", true, false) }},
		{"no mail", func(db *store.DB) error { return db.SetOptOut(t.Context(), noon, "customer", "C1", false, true) }},
	} {
		for _, order := range []string{"before", "after"} {
			t.Run(c.name+" "+order+" queueing", func(t *testing.T) {
				db := mailing(t)
				if order == "after" {
					queue(t, db, letter("k1"))
				}
				if err := c.do(db); err != nil {
					t.Fatal(err)
				}
				if order == "before" {
					queue(t, db, letter("k1"))
				}
				if l, err := outbox.NewQueue(db).Claim(t.Context(), noon, lease); !errors.Is(err, store.ErrNone) {
					t.Errorf("claimed %q, %v; want ErrNone", l.Key, err)
				}
			})
		}
	}
}

func TestStopReachesALetterBeforeItsDot(t *testing.T) {
	db := mailing(t)
	queue(t, db, letter("k1"))
	l, err := outbox.NewQueue(db).Claim(t.Context(), noon, lease)
	if err != nil {
		t.Fatal(err)
	}
	if err := db.SetOptOut(t.Context(), noon, "customer", "C1", false, true); err != nil {
		t.Fatal(err)
	}
	if err := outbox.NewQueue(db).MarkDot(t.Context(), l.ID, l.LeaseToken, noon); !errors.Is(err, store.ErrLostLease) {
		t.Errorf("the dot after the stop: %v, want ErrLostLease", err)
	}
}

func TestBookedMailsGoToWhoWantsNoReminders(t *testing.T) {
	db := mailing(t)
	if err := db.SetOptOut(t.Context(), noon, "customer", "C1", true, false); err != nil {
		t.Fatal(err)
	}
	l := letter("k1")
	l.Step = schedule.StepConfirmation
	if n := queue(t, db, l); n != 1 {
		t.Errorf("%d queued, want the confirmation", n)
	}
}

// TestWhatWasNeverSentWasNotHeard: a letter that ran out of time, one whose
// address died and one that its customer stopped leave their steps open.
func TestWhatWasNeverSentIsNoNotice(t *testing.T) {
	for name, end := range map[string]func(db *store.DB) error{
		"expired": func(db *store.DB) error {
			_, err := outbox.Expire(t.Context(), db, noon.Add(241*time.Hour))
			return err
		},
		"expired while it was tried": func(db *store.DB) error {
			l, err := outbox.NewQueue(db).Claim(t.Context(), noon, lease)
			if err != nil {
				return err
			}
			return outbox.NewQueue(db).RecordOutcome(t.Context(), l.ID, l.LeaseToken, schedule.Outcome{State: schedule.MessageExpired}, noon)
		},
		"the address was dead for a while": func(db *store.DB) error {
			storetest.Bounce(t, db, "zoe@example.org", "550 5.1.1")
			return outbox.Unsuppress(t.Context(), db, noon, "desk", "zoe@example.org")
		},
		"no reminders for a while": func(db *store.DB) error {
			if err := db.SetOptOut(t.Context(), noon, "customer", "C1", true, false); err != nil {
				return err
			}
			return db.SetOptOut(t.Context(), noon, "customer", "C1", false, false)
		},
	} {
		t.Run(name, func(t *testing.T) {
			db := mailing(t)
			told := schedule.Notified{CustomerID: "C1", Subject: "B1.lay-up.2027", Step: schedule.StepNudge, On: civil.FromTime(noon)}
			if err := outbox.RecordNotified(t.Context(), db, noon, "desk", []schedule.Notified{told}); err != nil {
				t.Fatal(err)
			}
			queue(t, db, letter("k1"))
			if err := end(db); err != nil {
				t.Fatal(err)
			}
			heard, err := outbox.Notified(t.Context(), db.Reader, []string{"C1"})
			if err != nil || !cmp.Equal(heard["C1"], []schedule.Notified{told}) {
				t.Errorf("heard %+v, %v; want only what was told on the phone", heard["C1"], err)
			}
			if reach, err := outbox.MailStatuses(t.Context(), db.Reader, []string{"C1"}); err != nil || !reach["C1"].LastMail.IsZero() {
				t.Errorf("the last mail was on %s, %v; want none", reach["C1"].LastMail, err)
			}
			if n := queue(t, db, letter("k1")); n != 1 {
				t.Error("the step is not open again")
			}
			if bad, err := db.Check(t.Context()); err != nil || len(bad) > 0 {
				t.Errorf("%v, %v", bad, err)
			}
		})
	}
}

// TestAClockThatWasAheadKeepsNothingBack: what was leased, put off and counted
// while the clock was a year ahead.
func TestAClockThatWasAheadKeepsNothingBack(t *testing.T) {
	db := mailing(t)
	ahead := noon.AddDate(1, 0, 0)
	for _, key := range []string{"leased", "put off", "sent", "waits"} {
		l := letter(key)
		l.NotAfter, l.NextAt = ahead.Add(time.Hour), ahead
		if n, err := outbox.Enqueue(t.Context(), db, ahead, []outbox.NewMessage{{Message: l}}); err != nil || n != 1 {
			t.Fatal(n, err)
		}
	}
	for _, o := range []schedule.Outcome{{}, {State: schedule.MessageDeferred, NextAt: ahead.Add(time.Minute)}, {State: schedule.MessageSent}} {
		l, err := outbox.NewQueue(db).Claim(t.Context(), ahead, lease)
		if err != nil {
			t.Fatal(err)
		}
		if o.State == schedule.MessageSent {
			err = outbox.NewQueue(db).MarkDot(t.Context(), l.ID, l.LeaseToken, ahead)
		}
		if err == nil && o.State != "" {
			err = outbox.NewQueue(db).RecordOutcome(t.Context(), l.ID, l.LeaseToken, o, ahead)
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	if first, err := db.OncePer(t.Context(), "month", "2027-11", ahead); err != nil || !first {
		t.Fatal(first, err)
	}
	if _, _, err := outbox.Recover(t.Context(), db, noon); err != nil {
		t.Fatal(err)
	}
	for range 3 {
		if _, err := outbox.NewQueue(db).Claim(t.Context(), noon, lease); err != nil {
			t.Errorf("a letter is kept back: %v", err)
		}
	}
	if n, err := outbox.RemindersQueuedSince(t.Context(), db.Reader, noon.Add(-time.Hour), noon); err != nil || n > 3 {
		t.Errorf("%d reminders count for today, %v", n, err)
	}
	if n, err := outbox.SentSince(t.Context(), db.Reader, noon.Add(-time.Minute), noon); err != nil || n != 3 {
		t.Errorf("%d letters count for this minute, %v; want the three that are under way", n, err)
	}
	if first, err := db.OncePer(t.Context(), "month", "2027-11", noon); err != nil || !first {
		t.Errorf("the month's work counts as done: %v", err)
	}
}

func TestFaultOfOursPausesTheQueue(t *testing.T) {
	db := mailing(t)
	queue(t, db, letter("k1"), letter("k2"))
	l, err := outbox.NewQueue(db).Claim(t.Context(), noon, lease)
	if err != nil {
		t.Fatal(err)
	}
	out := schedule.Outcome{State: schedule.MessageRefused, Code: 550, Enhanced: "5.7.1", Answer: "not allowed", PauseQueue: true}
	if err := outbox.NewQueue(db).RecordOutcome(t.Context(), l.ID, l.LeaseToken, out, noon); err != nil {
		t.Fatal(err)
	}
	if s, err := outbox.Sending(t.Context(), db.Reader); err != nil || s.PausedWhy != "550 5.7.1 not allowed" || s.Open() {
		t.Errorf("sending is %+v, %v; want it paused with the answer", s, err)
	}
	if _, err := outbox.NewQueue(db).Claim(t.Context(), noon, lease); !errors.Is(err, store.ErrNone) {
		t.Errorf("claimed from a paused queue: %v", err)
	}
	if err := outbox.Release(t.Context(), db, noon, "desk"); err != nil {
		t.Fatal(err)
	}
	if l, err := outbox.NewQueue(db).Claim(t.Context(), noon, lease); err != nil || l.Key != "k2" {
		t.Errorf("after the release: %q, %v; want k2", l.Key, err)
	}
}

func TestDeadAddressDropsWhatWaitsForIt(t *testing.T) {
	db := mailing(t)
	queue(t, db, letter("k1"), letter("k2"))
	l, err := outbox.NewQueue(db).Claim(t.Context(), noon, lease)
	if err != nil {
		t.Fatal(err)
	}
	out := schedule.Outcome{State: schedule.MessageRefused, Code: 550, Enhanced: "5.1.1", Answer: "no such user", Suppress: true}
	if err := outbox.NewQueue(db).RecordOutcome(t.Context(), l.ID, l.LeaseToken, out, noon); err != nil {
		t.Fatal(err)
	}
	if reach, err := outbox.MailStatuses(t.Context(), db.Reader, []string{"C1"}); err != nil || reach["C1"].Suppressed != "" {
		t.Errorf("believed before the drain has ended: %+v, %v", reach, err)
	}
	if err := outbox.NewQueue(db).BelieveDead(t.Context(), noon); err != nil {
		t.Fatal(err)
	}
	if counts, _ := outbox.MessageCounts(t.Context(), db.Reader); counts[schedule.MessageRefused] != 1 || counts[schedule.MessageWithdrawn] != 1 {
		t.Errorf("counts %v; want one refused and one withdrawn", counts)
	}
	reach, err := outbox.MailStatuses(t.Context(), db.Reader, []string{"C1"})
	if err != nil || reach["C1"].Suppressed != "550 5.1.1 no such user" {
		t.Errorf("reach %+v, %v; want the reason", reach, err)
	}
	if err := outbox.Unsuppress(t.Context(), db, noon, "desk", "zoe@example.org"); err != nil {
		t.Fatal(err)
	}
	if n := queue(t, db, letter("k3")); n != 1 {
		t.Error("the address is still dead")
	}
}

func TestAnswerAfterTheLeaseStillCounts(t *testing.T) {
	db := mailing(t)
	queue(t, db, letter("k1"))
	l, err := outbox.NewQueue(db).Claim(t.Context(), noon, lease)
	if err != nil {
		t.Fatal(err)
	}
	if err := outbox.NewQueue(db).MarkDot(t.Context(), l.ID, l.LeaseToken, noon); err != nil {
		t.Fatal(err)
	}
	if _, n, err := outbox.Recover(t.Context(), db, noon.Add(lease+time.Second)); err != nil || n != 1 {
		t.Fatalf("%d uncertain, %v; want 1", n, err)
	}
	if err := outbox.Requeue(t.Context(), db, noon, "desk", l.ID); !errors.Is(err, store.ErrRefused) {
		t.Errorf("an uncertain reminder could be sent again: %v", err)
	}
	if err := outbox.NewQueue(db).RecordOutcome(t.Context(), l.ID, l.LeaseToken, schedule.Outcome{State: schedule.MessageSent, Code: 250}, noon.Add(time.Hour)); err != nil {
		t.Fatal(err)
	}
	if got, err := outbox.Message(t.Context(), db.Reader, l.ID); err != nil || got.State != schedule.MessageSent {
		t.Errorf("letter is %s, %v; want sent", got.State, err)
	}
}

func TestRestoredOutboxWaitsForAPerson(t *testing.T) {
	db := mailing(t)
	l := letter("k1")
	l.Step = schedule.StepConfirmation
	queue(t, db, l)
	if err := outbox.AfterRestore(t.Context(), db, noon, "restore"); err != nil {
		t.Fatal(err)
	}
	if s, _ := outbox.Sending(t.Context(), db.Reader); s.HeldWhy == "" {
		t.Error("the queue is not held")
	}
	all, err := outbox.Messages(t.Context(), db.Reader, outbox.MessageQuery{State: schedule.MessageUncertain})
	if err != nil || len(all) != 1 {
		t.Fatalf("%d uncertain letters, %v; want 1", len(all), err)
	}
	if err := outbox.Requeue(t.Context(), db, noon, "desk", all[0].ID); err != nil {
		t.Fatal(err)
	}
	if err := outbox.Release(t.Context(), db, noon, "desk"); err != nil {
		t.Fatal(err)
	}
	if got, err := outbox.NewQueue(db).Claim(t.Context(), noon, lease); err != nil || got.MessageID != l.MessageID {
		t.Errorf("claimed %q, %v; want the same letter", got.MessageID, err)
	}
}

// outboxModel is what must be true of an outbox, however its callers crash.
type outboxModel struct {
	db      *store.DB
	now     time.Time
	prefix  string
	keys    int
	dots    map[int64]int // final dots that may have gone out since the last answer that none did
	settled map[int64]bool
	leases  []schedule.Message
}

// A letter's dot goes out again only after an answer that says it was not
// taken; whatever order claims, dots, answers, crashes and clocks come in.
func TestOutboxNeverRepeatsADot(t *testing.T) {
	db := mailing(t)
	start, run := noon, 0
	rapid.Check(t, func(t *rapid.T) {
		run++
		start = start.Add(1000 * time.Hour)
		m := &outboxModel{db: db, now: start, prefix: fmt.Sprint("run", run), dots: map[int64]int{}, settled: map[int64]bool{}}
		m.sweep(t)
		t.Repeat(map[string]func(*rapid.T){
			"":        m.check,
			"enqueue": m.enqueue,
			"claim":   m.claim,
			"dot":     m.dot,
			"answer":  m.answer,
			"crash":   func(*rapid.T) { m.leases = nil },
			"wait":    func(t *rapid.T) { m.now = m.now.Add(time.Duration(rapid.IntRange(1, 40).Draw(t, "min")) * time.Minute) },
			"recover": func(t *rapid.T) {
				if _, _, err := outbox.Recover(ctx, db, m.now); err != nil {
					t.Fatal(err)
				}
			},
		})
	})
}

// sweep ends whatever an earlier run left.
func (m *outboxModel) sweep(t *rapid.T) {
	if _, _, err := outbox.Recover(ctx, m.db, m.now); err != nil {
		t.Fatal(err)
	}
	if _, err := outbox.Expire(ctx, m.db, m.now); err != nil {
		t.Fatal(err)
	}
}

func (m *outboxModel) enqueue(t *rapid.T) {
	l := letter(fmt.Sprint(m.prefix, "/", rapid.IntRange(0, 4).Draw(t, "key")))
	l.NotAfter = m.now.Add(time.Duration(rapid.IntRange(0, 120).Draw(t, "useful")) * time.Minute)
	n, err := outbox.Enqueue(ctx, m.db, m.now, []outbox.NewMessage{{Message: l}})
	if err != nil {
		t.Fatal(err)
	}
	m.keys += n
}

func (m *outboxModel) claim(t *rapid.T) {
	l, err := outbox.NewQueue(m.db).Claim(ctx, m.now, lease)
	if errors.Is(err, store.ErrNone) {
		return
	}
	if err != nil {
		t.Fatal(err)
	}
	if m.dots[l.ID] > 0 || m.settled[l.ID] {
		t.Fatalf("letter %d was given out although its dot may be out", l.ID)
	}
	if l.NotAfter.Before(m.now) {
		t.Fatalf("letter %d was given out after its last useful moment", l.ID)
	}
	m.leases = append(m.leases, l)
}

func (m *outboxModel) pick(t *rapid.T) (schedule.Message, bool) {
	if len(m.leases) == 0 {
		return schedule.Message{}, false
	}
	return rapid.SampledFrom(m.leases).Draw(t, "lease"), true
}

func (m *outboxModel) dot(t *rapid.T) {
	l, ok := m.pick(t)
	if !ok {
		return
	}
	err := outbox.NewQueue(m.db).MarkDot(ctx, l.ID, l.LeaseToken, m.now)
	if errors.Is(err, store.ErrLostLease) {
		return
	}
	if err != nil {
		t.Fatal(err)
	}
	if m.dots[l.ID]++; m.dots[l.ID] > 1 {
		t.Fatalf("letter %d: a second dot", l.ID)
	}
}

func (m *outboxModel) answer(t *rapid.T) {
	l, ok := m.pick(t)
	if !ok {
		return
	}
	states := []schedule.MessageState{schedule.MessageSent, schedule.MessageRefused, schedule.MessageUncertain, schedule.MessageDeferred}
	o := schedule.Outcome{State: rapid.SampledFrom(states).Draw(t, "state"), NextAt: m.now.Add(10 * time.Minute)}
	err := outbox.NewQueue(m.db).RecordOutcome(ctx, l.ID, l.LeaseToken, o, m.now)
	if errors.Is(err, store.ErrLostLease) {
		return
	}
	if err != nil {
		t.Fatal(err)
	}
	switch o.State {
	case schedule.MessageDeferred:
		m.dots[l.ID] = 0
	case schedule.MessageSent, schedule.MessageRefused:
		m.settled[l.ID] = true
	case schedule.MessageUncertain:
		m.dots[l.ID] = 1
	}
}

// check finds every key once.
func (m *outboxModel) check(t *rapid.T) {
	all, err := outbox.Messages(ctx, m.db.Reader, outbox.MessageQuery{Limit: 10})
	if err != nil {
		t.Fatal(err)
	}
	n := 0
	for _, l := range all {
		if len(l.Key) > len(m.prefix) && l.Key[:len(m.prefix)+1] == m.prefix+"/" {
			n++
		}
	}
	if n != m.keys {
		t.Fatalf("%d letters, want %d", n, m.keys)
	}
}

// TestBytesOfLettersMove opens a shop from when a letter's bytes lay in its row.
func TestBytesOfLettersMove(t *testing.T) {
	path := filepath.Join(t.TempDir(), "shop.db")
	if err := storetest.MigrateTo(t.Context(), path, 11); err != nil {
		t.Fatal(err)
	}
	rawAt(t, path,
		`INSERT INTO outbox (id, key, to_address, from_address, step, message_id, raw, state, next_at, queued_at)
			VALUES (7, 'k7', 'zoe@example.org', 's@shop.example', 'invitation', 'm7', x'0D0A2E00', 'queued', 0, 0), (9, 'k9', 'ida@example.org', 's@shop.example', 'invitation', 'm9', x'', 'sent', 0, 0)`,
		"UPDATE sending SET switched_on = 1")
	db, err := store.Open(t.Context(), path)
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	if l, err := outbox.NewQueue(db).Claim(t.Context(), noon, lease); err != nil || l.ID != 7 || string(l.Raw) != "\r\n.\x00" {
		t.Errorf("claimed %d with bytes %q, %v", l.ID, l.Raw, err)
	}
	if l, err := outbox.Message(t.Context(), db.Reader, 9); err != nil || len(l.Raw) != 0 {
		t.Errorf("an erased letter has bytes %q, %v", l.Raw, err)
	}
}

// TestWhatMayNotHaveArrivedIsInDoubt: only a letter that the server took and that
// nobody sent back has surely told what it says.
func TestWhatMayNotHaveArrivedIsInDoubt(t *testing.T) {
	db := mailing(t)
	queue(t, db, letter("k1"))
	inDoubt := func(want bool, when string) {
		t.Helper()
		told, err := outbox.Notified(t.Context(), db.Reader, []string{"C1"})
		if err != nil || len(told["C1"]) != 1 || told["C1"][0].InDoubt != want {
			t.Errorf("%s: %+v, %v; want in doubt %v", when, told["C1"], err, want)
		}
	}
	inDoubt(true, "while it waits")
	q := outbox.NewQueue(db)
	l, err := q.Claim(t.Context(), noon, lease)
	if err != nil {
		t.Fatal(err)
	}
	if err := q.MarkDot(t.Context(), l.ID, l.LeaseToken, noon); err != nil {
		t.Fatal(err)
	}
	if _, _, err := outbox.Recover(t.Context(), db, noon.Add(lease+time.Second)); err != nil {
		t.Fatal(err)
	}
	inDoubt(true, "when the answer to its dot was not seen")
	if err := q.RecordOutcome(t.Context(), l.ID, l.LeaseToken, schedule.Outcome{State: schedule.MessageSent, Code: 250}, noon.Add(time.Hour)); err != nil {
		t.Fatal(err)
	}
	inDoubt(false, "when the server has taken it")
	for _, came := range []struct {
		kind string
		want bool
	}{{"delivered", false}, {"complaint", false}, {"soft", true}} {
		if _, err := outbox.TakeReturned(t.Context(), db, noon, "test", outbox.ReturnedMail{Hash: []byte(came.kind), Kind: came.kind, OutboxID: l.ID, CustomerID: "C1"}); err != nil {
			t.Fatal(err)
		}
		inDoubt(came.want, "when it came back as "+came.kind)
	}
	by := schedule.Notified{CustomerID: "C1", Subject: "B1.lay-up.2027", Step: schedule.StepInvitation, On: civil.FromTime(noon)}
	if err := outbox.RecordNotified(t.Context(), db, noon, "desk", []schedule.Notified{by}); err != nil {
		t.Fatal(err)
	}
	inDoubt(false, "when it was also told on the telephone")
}

//go:build unix

package main

import (
	"os"
	"strings"
	"sync/atomic"
	"syscall"
	"testing"
	"time"

	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
)

// mailStages are the stages of a letter in their order.
var mailStages = []mailStage{stageHello, stageMail, stageRcpt, stageBody, stageDot, stageAccepted}

// TestServeToldToStopAtEveryStage ends a daemon gently at each stage of a letter,
// and has it read its settings again at each stage. No letter is lost or doubled,
// and none is in doubt: what is under way is finished.
func TestServeToldToStopAtEveryStage(t *testing.T) {
	if testing.Short() {
		t.Skip("stops many daemons")
	}
	s, box, day := sendingShop(t, "per_minute = 0\n") // a minute's ration would be gone after the first stop
	const total = 300
	queueLetters(t, s, day, total, 40)
	for _, stage := range mailStages {
		d := &served{}
		started, reached := make(chan struct{}), make(chan struct{})
		var once atomic.Bool
		box.watch(func(at mailStage) bool {
			<-started
			if at == stage && once.CompareAndSwap(false, true) {
				d.signal(syscall.SIGTERM)
				close(reached)
			}
			return true
		})
		d = s.serve(t)
		close(started)
		waitFor(t, reached, string(stage))
		d.wait(t)
	}
	left := letters(t, s)
	if left[schedule.MessageQueued] == 0 || left[schedule.MessageSent] == 0 {
		t.Errorf("after the stops %v: none was stopped in the middle", left)
	}
	var told atomic.Int32 // how many stages the daemon was told to read again at
	d := &served{}
	started := make(chan struct{})
	box.watch(func(at mailStage) bool {
		<-started
		if n := told.Load(); int(n) < len(mailStages) && at == mailStages[n] && told.CompareAndSwap(n, n+1) {
			d.signal(syscall.SIGHUP)
		}
		return true
	})
	d = s.serve(t)
	close(started)
	const again = `msg="settings read again"`
	for end := time.Now().Add(patience); int(told.Load()) < len(mailStages) || strings.Count(d.lines(), again) == 0; time.Sleep(20 * time.Millisecond) {
		if time.Now().After(end) {
			t.Fatalf("told %d times\n%s", told.Load(), d.lines())
		}
	}
	box.watch(nil)
	d.stop(t)
	for range 3 { // what was put off
		day++
		s.today = day.String()
		s.do(t, "mail", "send")
	}
	counts, lost := s.tally(t, box)
	if counts[schedule.MessageSent] != total || len(counts) != 1 || lost > 0 {
		t.Errorf("letters %v, %d lost; want all %d sent", counts, lost, total)
	}
}

// TestDaemonOnOddDays runs a daemon on a day, a day later, at the end of a month with
// a 29th of February, around a new year, on the days on which clocks change, a year
// ahead, and back again, and then changes the shop's zone under it. Each time every
// boat has its plan and the shop finds nothing wrong with itself; no email comes
// twice, and an appointment that is still to come keeps its day and hour.
func TestDaemonOnOddDays(t *testing.T) {
	if testing.Short() {
		t.Skip("starts many daemons")
	}
	box := newMailbox(t)
	settings := strings.Replace(demoSettings("127.0.0.1:8410", box.address, false), "[reminders]\n", "[reminders]\ndaily_limit = 500\n", 1)
	s := inventedShop(t, settings, 20, civil.Of(2027, 3, 12))
	s.do(t, "mail", "on")
	s.do(t, "book", "B00001", "B00001.fit-out.2028", "2028-05-17", "--at", "09:30", "--sure", "--over")
	appointment := func() string {
		t.Helper()
		for line := range strings.Lines(s.do(t, "feed", "B00001", "--show")) {
			if strings.HasPrefix(line, "DTSTART:202805") {
				return line
			}
		}
		return ""
	}
	before := appointment()
	for _, day := range []string{
		"2027-03-13", "2027-03-14", "2027-03-15", // clocks go forward in New York on the 14th
		"2027-04-30", "2027-11-06", "2027-11-07", "2027-11-08", // and back on 7 November
		"2027-12-31", "2028-01-01", "2028-02-28", "2028-02-29", "2028-03-01",
		"2027-03-16", "2027-03-15", "2027-03-17", // the year ahead was a mistake, and so was a day
	} {
		s.today = day
		untilSound(t, s)
		s.do(t, "mail", "send")
	}
	if before == "" || appointment() != before {
		t.Errorf("the appointment was %q and is %q", before, appointment())
	}
	for id, n := range box.copies() {
		if n > 1 {
			t.Errorf("%s was accepted %d times", id, n)
		}
	}
	if n := len(box.copies()); n < 10 {
		t.Errorf("%d emails: too few to prove anything", n)
	}
	d := s.serve(t)
	other := strings.Replace(settings, "America/New_York", "Pacific/Auckland", 1)
	if other == settings {
		t.Fatal("the zone is not in the settings")
	}
	if err := os.WriteFile(s.config(), []byte(other), 0o600); err != nil {
		t.Fatal(err)
	}
	d.signal(syscall.SIGHUP)
	for end := time.Now().Add(patience); !strings.Contains(d.lines(), `msg="settings read again"`); time.Sleep(20 * time.Millisecond) {
		if time.Now().After(end) {
			t.Fatal(d.lines())
		}
	}
	d.stop(t)
	untilSound(t, s)
	for _, v := range doJSON[struct {
		Visits []struct{ ID, Booked string }
	}](t, s, "plan", "B00001").Visits {
		if v.ID == "B00001.fit-out.2028" && v.Booked != "2028-05-17" {
			t.Errorf("in another zone the appointment is on %q", v.Booked)
		}
	}
}

package main

import (
	"bufio"
	"bytes"
	"encoding/base64"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/testkit"
	"bellbuoy/store/outbox"
	"bellbuoy/store/storetest"
)

// ownCalendar is a customer's own calendar, which takes what comes by mail, and
// perhaps one that follows the shop's beside it.
type ownCalendar interface {
	take(t *testing.T, calendar []byte)
	own(t *testing.T) []string
	followed(t *testing.T) []string // nil for none
}

// evolutionInvited is the Evolution data server as the mail program of a Linux
// desktop uses it: it works out itself what an invitation does.
type evolutionInvited struct {
	ask    io.Writer
	answer *bufio.Scanner
	dir    string
	follow bool
}

func inviteEvolution(t *testing.T, address string) ownCalendar {
	t.Helper()
	const python = "/usr/bin/python3"
	_, err := exec.LookPath("dbus-run-session")
	testkit.Needs(t, err == nil, "dbus-run-session")
	testkit.Needs(t, exec.Command(python, "-c", "import gi; gi.require_version('ECal', '2.0'); from gi.repository import ECal").Run() == nil, "gir1.2-ecal-2.0")
	home := t.TempDir()
	args := []string{"--", python, filepath.Join(testdata, "outside", "eds_invited.py")}
	if address != "" {
		args = append(args, address)
	}
	cmd := exec.Command("dbus-run-session", args...)
	cmd.Env = append(os.Environ(), "HOME="+home, "XDG_RUNTIME_DIR="+home, "XDG_CONFIG_HOME="+home, "XDG_DATA_HOME="+home, "XDG_CACHE_HOME="+home,
		"GSETTINGS_BACKEND=memory", "PYTHONDONTWRITEBYTECODE=1")
	in, err := cmd.StdinPipe()
	if err != nil {
		t.Fatal(err)
	}
	out, err := cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	var fault bytes.Buffer
	cmd.Stderr = &fault
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		in.Close()
		if err := cmd.Wait(); err != nil {
			t.Errorf("the Evolution data server: %v\n%s", err, fault.Bytes())
		}
	})
	return &evolutionInvited{ask: in, answer: bufio.NewScanner(out), dir: t.TempDir(), follow: address != ""}
}

func (e *evolutionInvited) says(t *testing.T, line string) []string {
	t.Helper()
	if _, err := fmt.Fprintln(e.ask, line); err != nil {
		t.Fatalf("the Evolution data server has gone: %v", err)
	}
	var lines []string
	for e.answer.Scan() {
		if e.answer.Text() == "" {
			slices.Sort(lines)
			return lines
		}
		lines = append(lines, e.answer.Text())
	}
	t.Fatalf("the Evolution data server fell silent: %v", e.answer.Err())
	return nil
}

func (e *evolutionInvited) take(t *testing.T, calendar []byte) {
	t.Helper()
	path := filepath.Join(e.dir, "invitation.ics")
	if err := os.WriteFile(path, calendar, 0o600); err != nil {
		t.Fatal(err)
	}
	e.says(t, "take "+path)
}

func (e *evolutionInvited) own(t *testing.T) []string {
	t.Helper()
	return e.says(t, "own "+testkit.Text("2027-04-01"))
}

func (e *evolutionInvited) followed(t *testing.T) []string {
	t.Helper()
	if !e.follow {
		return nil
	}
	return e.says(t, "followed "+testkit.Text("2027-04-01"))
}

// khalInvited is khal, into which its reader imports what came by mail. It knows no
// methods: an appointment that is off stays, and says so.
type khalInvited struct {
	*calendarClient
	follows *calendarClient
}

func inviteKhal(t *testing.T, address string) ownCalendar {
	t.Helper()
	k := &khalInvited{calendarClient: subscribe(t, "http://127.0.0.1:1/nothing")}
	if address != "" {
		k.follows = subscribe(t, address)
	}
	conf := filepath.Join(k.dir, "khal.conf")
	text, err := os.ReadFile(conf)
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(conf, []byte(strings.Replace(string(text), "readonly = True\n", "", 1)), 0o600); err != nil {
		t.Fatal(err)
	}
	return k
}

func (k *khalInvited) take(t *testing.T, calendar []byte) {
	t.Helper()
	path := filepath.Join(k.dir, "invitation.ics")
	if err := os.WriteFile(path, calendar, 0o600); err != nil {
		t.Fatal(err)
	}
	k.run(t, "khal", "-c", filepath.Join(k.dir, "khal.conf"), "import", "--batch", "-a", "boat", path)
}

func (k *khalInvited) own(t *testing.T) []string {
	t.Helper()
	out := k.run(t, "khal", "-c", filepath.Join(k.dir, "khal.conf"), "list", "--once", "--day-format", "",
		"--format", "{start-long} to {end-long}: {title} {status}", testkit.Text("2027-04-01"), "700d")
	var lines []string
	for line := range strings.SplitSeq(out, "\n") {
		if line = strings.TrimSpace(line); line != "" && !strings.HasSuffix(line, "CANCELLED") {
			lines = append(lines, line)
		}
	}
	return lines
}

func (k *khalInvited) followed(t *testing.T) []string {
	t.Helper()
	if k.follows == nil {
		return nil
	}
	return k.follows.shows(t)
}

// TestARealCalendarTakesInvitations books, moves, calls off and books again, and hands what
// comes by mail to calendar programs, with the shop's calendar followed beside and
// without.
func TestARealCalendarTakesInvitations(t *testing.T) {
	if testing.Short() {
		t.Skip("starts calendar programs")
	}
	for name, invite := range map[string]func(*testing.T, string) ownCalendar{"khal": inviteKhal, "the Evolution data server": inviteEvolution} {
		for _, follow := range []bool{false, true} {
			t.Run(fmt.Sprintf("%s follows %t", name, follow), func(t *testing.T) { takesInvitations(t, invite, follow) })
		}
	}
}

// takesInvitations: whoever follows the shop's calendar is no longer invited, but what
// stands in the own calendar is moved and taken out for ever.
func takesInvitations(t *testing.T, invite func(*testing.T, string) ownCalendar, follow bool) {
	box := newMailbox(t)
	s := newShop(t, lindrake(t, box.settings()+"\n[calendar]\nappointment = \"invitation\"\n"))
	s.today = testkit.Text("2027-04-01")
	s.do(t, "import", testkit.Folder(t, filepath.Join(testdata, "worked")))
	s.do(t, "mail", "on")
	visit := doJSON[planJSON](t, s, "plan", "PERCH").Visits[0].ID
	// Nobody follows yet: the first email invites.
	s.do(t, "book", "PERCH", visit, testkit.Text("2027-04-19"), "--at", "08:00")
	d := s.serve(t)
	address := ""
	if follow {
		address = d.at(t, s.do(t, "feed", "PERCH"))
	}
	client := invite(t, address)
	client.take(t, newestCalendar(t, s, visit))
	shows := func(step string, want ...string) {
		t.Helper()
		if got := client.own(t); !slices.Equal(got, want) {
			t.Errorf("%s: the calendar shows %q, want %q", step, got, want)
		}
	}
	const title = ": Bring in Perch Pressure: Lindrake Cove Boat Works CONFIRMED"
	for _, c := range []struct {
		step string
		args []string
		want []string
	}{
		{"moved", []string{testkit.Text("2027-04-20"), "--at", "09:30"}, []string{testkit.Text("2027-04-20 09:30 to 2027-04-20 10:00") + title}},
		{"moved again", []string{testkit.Text("2027-04-22"), "--at", "14:00"}, []string{testkit.Text("2027-04-22 14:00 to 2027-04-22 14:30") + title}},
		{"called off", []string{"--off"}, nil},
		{"booked again", []string{testkit.Text("2027-04-22"), "--at", "14:00"}, []string{testkit.Text("2027-04-22 14:00 to 2027-04-22 14:30") + title}},
	} {
		if follow {
			day, err := civil.Parse(s.today)
			if err != nil {
				t.Fatal(err)
			}
			if err := storetest.Writer(t, s.open(t).DB).NoteFetch(t.Context(), "boat", "PERCH", day); err != nil {
				t.Fatal(err)
			}
		}
		s.do(t, append([]string{"book", "PERCH", visit}, c.args...)...)
		calendar := newestCalendar(t, s, visit)
		if follows := follow && c.step == "booked again"; follows == (calendar != nil) {
			t.Errorf("%s: an invitation is %t", c.step, calendar != nil)
		}
		if calendar != nil {
			client.take(t, calendar)
			shows(c.step, c.want...)
		}
		if !follow || c.want == nil {
			continue
		}
		// The calendar that is followed has the visit too.
		when, _, _ := strings.Cut(c.want[0], ": ")
		until(t, followedOnly{client, when}, c.step+", followed", []string{when})
	}
	d.stop(t)
}

// followedOnly shows of a followed calendar whether it has an event then.
type followedOnly struct {
	ownCalendar
	when string
}

func (f followedOnly) shows(t *testing.T) []string {
	t.Helper()
	var got []string
	for _, line := range f.followed(t) {
		if when, _, _ := strings.Cut(line, ": "); when == f.when {
			got = append(got, when)
		}
	}
	return got
}

// newestCalendar is the calendar of the newest email about a visit, nil if it has
// none.
func newestCalendar(t *testing.T, s *testShop, visit string) []byte {
	t.Helper()
	all, err := outbox.Messages(t.Context(), s.open(t).DB, outbox.MessageQuery{Limit: 20})
	if err != nil {
		t.Fatal(err)
	}
	for _, l := range all {
		if l.Step != schedule.StepConfirmation && l.Step != schedule.StepCancellation || !strings.Contains(strings.Join(l.Subjects, " "), visit) {
			continue
		}
		whole, err := outbox.Message(t.Context(), s.open(t).DB, l.ID)
		if err != nil {
			t.Fatal(err)
		}
		_, part, ok := strings.Cut(string(whole.Raw), "Content-Type: text/calendar")
		if !ok {
			return nil
		}
		_, part, ok = strings.Cut(part, "\r\n\r\n")
		part, _, _ = strings.Cut(part, "\r\n--")
		body, err := base64.StdEncoding.DecodeString(strings.ReplaceAll(strings.TrimSpace(part), "\r\n", ""))
		if err != nil || !ok {
			t.Fatalf("no calendar in %s, %v", l.Subject, err)
		}
		return body
	}
	t.Fatalf("no email about %s", visit)
	return nil
}

//go:build linux

package main

import (
	"bufio"
	"bytes"
	"database/sql"
	"encoding/hex"
	"fmt"
	"math/rand/v2"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"

	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/testkit"
	"bellbuoy/store"
)

// recorded is what a daemon did to its files and told others, in the order in
// which the kernel saw it.
type recorded struct {
	events []event
}

// event is one call of the kernel. A change of a file is on its disk only once a
// sync of that file that began later has ended.
type event struct {
	kind eventKind
	file string // its path, or the socket
	off  int64  // of a write; the length of a truncation
	data []byte
	sync int // of a sync's end: the event with which it began
}

type eventKind int

const (
	eventWrite eventKind = iota
	eventTruncate
	eventUnlink
	eventSyncBegins
	eventSynced
	eventTold // bytes for a socket
)

// traced are the calls that are recorded. SQLite writes by pwrite64 alone, to the
// database and to its log.
const traced = "pwrite64,write,fsync,fdatasync,ftruncate,unlink,unlinkat"

// underStrace is the command line that runs the program and records it. The
// program stays the child of who starts it.
func underStrace(trace string) []string {
	return []string{"strace", "-D", "-q", "-f", "-y", "--seccomp-bpf", "-xx", "-s", "4194304", "-e", "trace=" + traced, "-o", trace}
}

// A line of strace: the thread, the call, what it was given and what came of it.
var (
	straceLine    = regexp.MustCompile(`^(\d+) +(\w+)\((.*)$`)
	straceResumed = regexp.MustCompile(`^(\d+) +<\.\.\. (\w+) resumed>.*= (-?\d+)`)
	straceFile    = regexp.MustCompile(`^(?:AT_FDCWD<[^>]*>, )?(?:\d+<([^>]*)>)?(?:, )?(?:"([^"]*)")?`)
	straceEnd     = regexp.MustCompile(`\) += (-?\d+)`)
	straceFigures = regexp.MustCompile(`, (\d+)(?:, (\d+))?(?:\) += -?\d+.*| <unfinished \.\.\.>)$`)
)

// readTrace reads what strace wrote.
func readTrace(t *testing.T, path string) *recorded {
	t.Helper()
	f, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	r := &recorded{}
	begun := map[string]event{} // syncs by thread
	for in := bufio.NewReaderSize(f, 1<<20); ; {
		line, err := in.ReadString('\n')
		if err != nil {
			return r
		}
		line = strings.TrimSuffix(line, "\n")
		if m := straceResumed.FindStringSubmatch(line); m != nil {
			if e, ok := begun[m[1]]; ok && strings.Contains(m[2], "sync") {
				delete(begun, m[1])
				r.ended(t, e, m[3])
			}
			continue
		}
		m := straceLine.FindStringSubmatch(line)
		if m == nil {
			continue // a signal, the end of a thread
		}
		e := event{}
		names := straceFile.FindStringSubmatch(m[3])
		e.file = string(unhex(t, names[1]))
		switch m[2] {
		case "pwrite64", "write":
			e.data = unhex(t, names[2])
			if m[2] == "pwrite64" {
				figures := straceFigures.FindStringSubmatch(m[3])
				if figures == nil || figures[1] != strconv.Itoa(len(e.data)) {
					t.Fatalf("cannot be read: %.200s", line)
				}
				e.off, _ = strconv.ParseInt(figures[2], 10, 64)
			} else if e.kind = eventTold; !strings.HasPrefix(e.file, "socket:") {
				continue
			}
		case "ftruncate":
			e.kind = eventTruncate
			e.off, _ = strconv.ParseInt(straceFigures.FindStringSubmatch(m[3])[1], 10, 64)
		case "unlink", "unlinkat":
			e.kind, e.file = eventUnlink, string(unhex(t, names[2]))
		case "fsync", "fdatasync":
			e.kind = eventSyncBegins
			e.sync = len(r.events)
			r.events = append(r.events, e)
			if end := straceEnd.FindStringSubmatch(m[3]); end != nil {
				r.ended(t, e, end[1])
			} else {
				begun[m[1]] = e
			}
			continue
		}
		r.events = append(r.events, e)
	}
}

func (r *recorded) ended(t *testing.T, e event, code string) {
	t.Helper()
	if code != "0" {
		t.Fatalf("a sync of %s gave %s", e.file, code)
	}
	e.kind = eventSynced
	r.events = append(r.events, e)
}

func unhex(t *testing.T, s string) []byte {
	t.Helper()
	b, err := hex.DecodeString(strings.ReplaceAll(s, `\x`, ""))
	if err != nil {
		t.Fatalf("%.100q: %v", s, err)
	}
	return b
}

// medium is a file as a disk has it.
type medium struct {
	safe    []byte
	gone    bool
	pending []pendingChange
}

type pendingChange struct {
	event
	at int // among all events
}

// disk is the shop's database and its log on a disk, up to some event.
type disk map[string]*medium

// happens takes one event in.
func (d disk) happens(e event, at int) {
	m := d[e.file]
	if m == nil {
		return
	}
	switch e.kind {
	case eventWrite, eventTruncate, eventUnlink:
		m.pending = append(m.pending, pendingChange{e, at})
	case eventSynced:
		n := 0
		for n < len(m.pending) && m.pending[n].at < e.sync {
			n++
		}
		for _, c := range m.pending[:n] {
			m.safe, m.gone = c.onto(m.safe, nil), c.kind == eventUnlink
		}
		m.pending = slices.Clone(m.pending[n:])
	}
}

// sector is what a disk writes whole or not at all.
const sector = 512

// onto lays a change over a file; keep, if set, says which sectors of a write
// reach the disk.
func (c *pendingChange) onto(b []byte, keep func() bool) []byte {
	switch {
	case c.kind == eventUnlink:
		return nil
	case c.kind == eventTruncate:
		return append(slices.Clone(b[:min(len(b), int(c.off))]), make([]byte, max(0, int(c.off)-len(b)))...)
	}
	for from := 0; from < len(c.data); from += sector {
		if keep != nil && !keep() {
			continue
		}
		to := min(from+sector, len(c.data))
		if end := int(c.off) + to; end > len(b) {
			b = append(b, make([]byte, end-len(b))...)
		}
		copy(b[int(c.off)+from:], c.data[from:to])
	}
	return b
}

// after is a file as it is found after the power went: what was synced, and of
// the rest whatever had reached the disk. whole says of a change whether any of
// it did, torn of each of its sectors.
func (m *medium) after(whole func() bool, torn func() bool) (b []byte, there bool) {
	b, gone := slices.Clone(m.safe), m.gone
	for i := range m.pending {
		if c := &m.pending[i]; whole() {
			b, gone = c.onto(b, torn), c.kind == eventUnlink
		}
	}
	return b, !gone
}

// losses are the ways in which a disk loses what was not synced: all of it, any
// of the writes, any of their sectors, everything but the end.
var losses = []struct {
	name  string
	whole func(*rand.Rand) bool
	torn  func(*rand.Rand) bool
}{
	{"everything", func(*rand.Rand) bool { return false }, nil},
	{"some writes", func(r *rand.Rand) bool { return r.IntN(2) == 0 }, nil},
	{"some sectors", func(*rand.Rand) bool { return true }, func(r *rand.Rand) bool { return r.IntN(2) == 0 }},
	{"few sectors", func(*rand.Rand) bool { return true }, func(r *rand.Rand) bool { return r.IntN(20) > 0 }},
}

// told is what the daemon has told others by some event: how many forms it has
// taken, and the letters whose last dot has gone out.
type told struct {
	forms   int
	letters []string
	begun   map[string]string // by socket: the letter under way
	tail    map[string]string // and the last bytes that went out
}

var messageID = regexp.MustCompile(`(?i)Message-ID: (<[^>]+>)`)

func (k *told) hears(e event) bool {
	if e.kind != eventTold {
		return false
	}
	if bytes.HasPrefix(e.data, []byte("HTTP/1.1 303 ")) {
		k.forms++
		return true
	}
	if m := messageID.FindSubmatch(e.data); m != nil && !bytes.HasPrefix(e.data, []byte("HTTP")) {
		k.begun[e.file] = strings.Trim(string(m[1]), "<>")
	}
	tail := k.tail[e.file] + string(e.data)
	k.tail[e.file] = tail[max(0, len(tail)-5):]
	if id := k.begun[e.file]; id != "" && k.tail[e.file] == "\r\n.\r\n" {
		k.letters = append(k.letters, id)
		delete(k.begun, e.file)
		return true
	}
	return false
}

// place writes a disk's files into a folder.
func (d disk) place(t *testing.T, dir string, rng *rand.Rand, loss int) {
	t.Helper()
	l := losses[loss]
	torn := func() bool { return l.torn(rng) }
	if l.torn == nil {
		torn = nil
	}
	for path, m := range d {
		to := filepath.Join(dir, filepath.Base(path))
		b, there := m.after(func() bool { return l.whole(rng) }, torn)
		var err error
		if there {
			err = os.WriteFile(to, b, 0o600)
		} else if err = os.Remove(to); os.IsNotExist(err) {
			err = nil
		}
		if err != nil {
			t.Fatal(err)
		}
	}
}

// cuts is at how many moments the power goes: BELLBUOY_CUTS, "all" for each
// sync and each word to others, or so many; 60 if it is not set.
func cuts(t *testing.T, all int) int {
	t.Helper()
	said := os.Getenv("BELLBUOY_CUTS")
	if said == "all" {
		return all
	}
	n, err := strconv.Atoi(said)
	if said == "" {
		n, err = 60, nil
	}
	if err != nil || n < 1 {
		t.Fatalf("BELLBUOY_CUTS=%q: want how many, or all", said)
	}
	return min(n, all)
}

func (k *told) String() string {
	return fmt.Sprintf("%d forms taken, %d letters gone", k.forms, len(k.letters))
}

// TestPowerCutAtAnyMoment records every write and every sync of a daemon that
// plans, takes forms and sends letters, and opens its file as it would be had the
// power gone at some moment: with all that was synced by then, and of the rest
// nothing, some writes, or some sectors of them. The file is whole each time, every
// form that was answered is in it, and no letter whose last dot had gone waits to
// be sent again. A name is taken to be on the disk with the first sync of its file.
func TestPowerCutAtAnyMoment(t *testing.T) {
	if testing.Short() {
		t.Skip("opens a file many times")
	}
	_, err := exec.LookPath("strace")
	testkit.Needs(t, err == nil, "strace")
	box := newMailbox(t)
	s := inventedShop(t, strings.Replace(demoSettings("127.0.0.1:8410", box.address, false), "[reminders]\n", "[reminders]\ndaily_limit = 500\n", 1), 40, civil.Of(2027, 3, 15))
	s.doWith(t, strings.NewReader(password+"\n"), "staff", "add", "Inge", "--role", "desk")
	s.do(t, "mail", "on")
	db := filepath.Join(s.dir, "bellbuoy.db")
	base := disk{db: readMedium(t, db), db + "-wal": readMedium(t, db+"-wal")}
	s.today = "2027-03-16"
	r := recordDaemon(t, s, 24)
	moments := r.moments(base)
	rng := rand.New(rand.NewPCG(11, 22))
	chosen := map[int]bool{}
	for _, i := range rng.Perm(len(moments))[:cuts(t, len(moments))] {
		chosen[moments[i]] = true
	}
	d, k, states := disk{}, told{begun: map[string]string{}, tail: map[string]string{}}, 0
	for path, m := range base {
		d[path] = &medium{safe: m.safe, gone: m.gone}
	}
	for at, e := range r.events {
		if chosen[at] && e.kind == eventSynced {
			states += lookAtCut(t, d, &k, rng) // as long as it is not on the disk
		}
		d.happens(e, at)
		if k.hears(e); chosen[at] && e.kind == eventTold {
			states += lookAtCut(t, d, &k, rng)
		}
	}
	if k.forms < 25 || len(k.letters) < 10 {
		t.Errorf("%s: too few to prove anything", &k)
	}
	t.Logf("%d calls of the kernel, %s; power cut at %d of %d moments, %d states of the file", len(r.events), &k, len(chosen), len(moments), states)
	// A disk that forgets what it was told to sync is found out.
	if faults := faultsOf(t, base, &k, rng, 0); len(faults) == 0 {
		t.Error("a file from before all of it is taken for a good one")
	}
}

func readMedium(t *testing.T, path string) *medium {
	t.Helper()
	b, err := os.ReadFile(path)
	if err != nil && !os.IsNotExist(err) {
		t.Fatal(err)
	}
	return &medium{safe: b, gone: err != nil}
}

// recordDaemon runs the daemon for so many jobs that the desk adds, until the
// letters of the day are out, and stops it.
func recordDaemon(t *testing.T, s *testShop, jobs int) *recorded {
	t.Helper()
	trace := filepath.Join(t.TempDir(), "trace")
	s.under = underStrace(trace)
	d := s.serve(t)
	post := d.signedIn(t)
	for i := range jobs {
		post.form(fmt.Sprintf("/boats/B%05d/job", 1+i%8), url.Values{"form": {fmt.Sprint("form", i)}, "words": {jobName(i)}, "minutes": {"30"}, "day": {"2027-03-17"}})
	}
	for end := time.Now().Add(patience); time.Now().Before(end) && letters(t, s)["sent"] < 10; {
		time.Sleep(50 * time.Millisecond)
	}
	d.signal(syscall.SIGTERM)
	d.wait(t)
	for end := time.Now().Add(patience); ; time.Sleep(20 * time.Millisecond) {
		if b, err := os.ReadFile(trace); err != nil || time.Now().After(end) {
			t.Fatalf("strace of %d does not end: %v, ... %s", d.cmd.Process.Pid, err, b[max(0, len(b)-2000):])
		} else if bytes.Contains(b, fmt.Appendf(nil, "\n%-5d +++ exited", d.cmd.Process.Pid)) { // its columns are five wide at least
			return readTrace(t, trace)
		}
	}
}

func jobName(i int) string { return fmt.Sprintf("Job number %d", i) }

// moments are the events at which the power may go: when a sync of the shop's
// files ends, and when others have been told something.
func (r *recorded) moments(base disk) (all []int) {
	k := told{begun: map[string]string{}, tail: map[string]string{}}
	for at, e := range r.events {
		if k.hears(e) || e.kind == eventSynced && base[e.file] != nil {
			all = append(all, at)
		}
	}
	return all
}

// lookAtCut opens the file as it would be after each kind of loss.
func lookAtCut(t *testing.T, d disk, k *told, rng *rand.Rand) int {
	t.Helper()
	for loss := range losses {
		for _, fault := range faultsOf(t, d, k, rng, loss) {
			t.Errorf("after %s, of what was not synced %s is lost: %s", k, losses[loss].name, fault)
		}
	}
	return len(losses)
}

// faultsOf is what a cut has done that it must not.
func faultsOf(t *testing.T, d disk, k *told, rng *rand.Rand, loss int) (faults []string) {
	t.Helper()
	dir := t.TempDir()
	defer os.RemoveAll(dir)
	d.place(t, dir, rng, loss)
	path := filepath.Join(dir, "bellbuoy.db")
	db, err := store.Open(t.Context(), path)
	if err != nil {
		return []string{err.Error()}
	}
	bad, err := db.Check(t.Context())
	if err != nil {
		bad = append(bad, err.Error())
	}
	if err := db.Close(); err != nil {
		bad = append(bad, err.Error())
	}
	q, err := sql.Open("sqlite", "file:"+path)
	if err != nil {
		t.Fatal(err)
	}
	defer q.Close()
	count := func(what, query string, args ...any) {
		n := 0
		if err := q.QueryRowContext(t.Context(), query, args...).Scan(&n); err != nil || n != 1 {
			bad = append(bad, fmt.Sprintf("%s: %d, %v", what, n, err))
		}
	}
	if k.forms > 0 { // the first is the one that signs in
		count("somebody signed in", "SELECT count(*) FROM sessions")
	}
	for i := range k.forms - 1 {
		count(jobName(i), "SELECT count(*) FROM follow_ups WHERE title = ?", jobName(i))
	}
	for _, id := range k.letters {
		count("letter "+id, "SELECT count(*) FROM outbox WHERE message_id = ? AND (state IN ('sent', 'uncertain') OR state = 'leased' AND dot_at IS NOT NULL)", id)
	}
	return bad
}

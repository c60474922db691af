package main

import (
	"encoding/base64"
	"errors"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/store"
	"bellbuoy/store/storetest"
)

// sisters are two shops of a folder, each with its own mail server and sending on.
// North has Dana's boat with an engine, its history and a booked day.
func sisters(t *testing.T) (folder string, north, south *testShop, fromNorth, fromSouth *mailbox) {
	t.Helper()
	folder = t.TempDir()
	north, south = shopAt(t, folder, "north", "North Works"), shopAt(t, folder, "south", "South Works")
	fromNorth, fromSouth = newMailbox(t), newMailbox(t)
	for s, box := range map[*testShop]*mailbox{north: fromNorth, south: fromSouth} {
		text, err := os.ReadFile(s.config())
		if err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(s.config(), append(text, box.settings()...), 0o600); err != nil {
			t.Fatal(err)
		}
		s.do(t, "mail", "on")
	}
	north.importRows(t, map[string]string{
		"customers.csv":  "customer_id,name,email,contact_by\nC1,Dana Whitlock,dana@mail.example,email\nC2,Erik Sandoval,erik@mail.example,email\n",
		"boats.csv":      "boat_id,customer_id,hin,sold_on,make,model,kind,water,place,berth\nB1,C1,QXB3K7T2E616,2024-05-01,Skiff,17,runabout,fresh,Lindrake Cove,own-dock\n",
		"components.csv": "component_id,boat_id,kind,label,propulsion,stroke,fuel,cooling,in_service,expires\nE1,B1,engine,,outboard,four,gasoline,raw-water,2024-05-01,\n",
		"history.csv":    "boat_id,component_id,day,service,by,amount,hours\nB1,,2026-09-10,lay-up,shop,480.00,\nB1,E1,2026-09-10,engine-oil,shop,120.00,88\n",
		"readings.csv":   "component_id,day,hours,read_by\nE1,2025-09-10,45,shop\n",
	})
	// South has another Dana, and a boat of the same number as North's.
	south.importRows(t, map[string]string{
		"customers.csv": "customer_id,name,email,contact_by\nC1,Dana Whitlock,another@mail.example,email\n",
		"boats.csv":     "boat_id,customer_id,hin,sold_on,make,model,kind,water,place,berth\nB1,C1,,2024-05-01,Skiff,17,runabout,fresh,Lindrake Cove,own-dock\n",
	})
	for _, s := range []*testShop{north, south} {
		s.today = "2027-04-08"
	}
	north.do(t, "book", "B1", "fit-out", "2027-04-27")
	return folder, north, south, fromNorth, fromSouth
}

func (s *testShop) transfer(t testing.TB, to *testShop, boat string) string {
	t.Helper()
	return s.do(t, "transfer", boat, "--to", to.config(), "--consent-by", "Dana Whitlock", "--consent-how", "signed the form", "--consent-on", "2027-04-07")
}

// count asks a shop's file.
func (s *testShop) count(t testing.TB, query string) int64 {
	t.Helper()
	h := s.open(t)
	defer h.Close()
	return storetest.Count(t, storetest.Writer(t, h.DB), query)
}

// checkTransferred checks that Dana's boat is at south with its history, once, and
// that north has let it go and keeps its books.
func checkTransferred(t *testing.T, north, south *testShop) {
	t.Helper()
	const arrived = " boat_id = (SELECT id FROM boats WHERE hin <> '')"
	for _, c := range []struct {
		of    *testShop
		want  int64
		query string
	}{
		{south, 1, "SELECT count(*) FROM boats WHERE hin <> '' AND gone IS NULL"},
		{south, 2, "SELECT count(*) FROM boats"},
		{south, 1, "SELECT count(*) FROM components WHERE" + arrived},
		{south, 2, "SELECT count(*) FROM records WHERE amount = 0 AND" + arrived},
		{south, 2, "SELECT count(*) FROM records WHERE" + arrived},
		{south, 1, "SELECT count(*) FROM readings WHERE hours = 450 AND" + arrived},
		{south, 1, "SELECT count(*) FROM ownerships o JOIN customers c ON c.id = o.customer_id WHERE o.to_day IS NULL AND c.email = 'dana@mail.example' AND" + arrived},
		{south, 2, "SELECT count(*) FROM customers"},
		{south, 1, "SELECT count(*) FROM transfers WHERE way = 'in' AND sister = 'North Works' AND consent_by = 'Dana Whitlock' AND consent_on = '2027-04-07' AND consent_how = 'signed the form'"},
		{south, 1, "SELECT count(*) FROM outbox WHERE step = 'welcome'"},
		{north, 1, "SELECT count(*) FROM transfers WHERE way = 'out' AND sister = 'South Works' AND done = 1"},
		{north, 1, "SELECT count(*) FROM boats WHERE gone = '2027-04-08'"},
		{north, 0, "SELECT count(*) FROM ownerships WHERE to_day IS NULL"},
		{north, 0, "SELECT count(*) FROM bookings"},
		{north, 60000, "SELECT sum(amount) FROM records"},
		{north, 0, "SELECT count(*) FROM outbox WHERE state NOT IN ('withdrawn', 'sent')"},
	} {
		if got := c.of.count(t, c.query); got != c.want {
			t.Errorf("%s: %s: %d, want %d", filepath.Base(c.of.dir), c.query, got, c.want)
		}
	}
}

// TestTransfer: a boat goes to the sister shop once, with its history and its owner's
// consent; the owner is told once, by that shop; and it can come back.
func TestTransfer(t *testing.T) {
	if testing.Short() {
		t.Skip("starts a daemon, or several commands")
	}
	_, north, south, fromNorth, fromSouth := sisters(t)
	north.do(t, "mail", "send")
	before := len(fromNorth.copies()) // the confirmation of the booked day
	out := north.transfer(t, south, "B1")
	if !strings.Contains(out, "B1 is at South Works now, as boat NB0001 of customer NC0001. Its owner gets an email from there.") || !strings.Contains(out, "No longer booked: April 27, 2027.") {
		t.Errorf("it says %s", out)
	}
	checkTransferred(t, north, south)
	if again := north.transfer(t, south, "B1"); !strings.Contains(again, "as boat NB0001 of customer NC0001. No email goes out about it from there now") {
		t.Errorf("the second time it says %s", again)
	}
	checkTransferred(t, north, south)
	for s, o := range map[*testShop]schedule.Ownership{
		north: {BoatID: "B1", CustomerID: "C1", From: civil.Of(2024, 5, 1), To: civil.Of(2027, 4, 8)},
		south: {BoatID: "NB0001", CustomerID: "NC0001", From: civil.Of(2027, 4, 8)},
	} {
		h := s.open(t)
		err := storetest.Writer(t, h.DB).TakeBackOwner(t.Context(), time.Now(), "Inge", "form", o.BoatID, o)
		if err := h.Close(); err != nil {
			t.Fatal(err)
		}
		if !errors.Is(err, store.ErrRefused) {
			t.Errorf("the transfer is taken back in one file alone: %v", err)
		}
	}
	checkTransferred(t, north, south)
	for _, s := range []*testShop{north, south} {
		s.do(t, "mail", "send")
		s.today = "2027-05-12"
		s.do(t, "mail", "send")
	}
	if n := len(fromNorth.copies()); n != before {
		t.Errorf("north sent %d emails after the boat had gone", n-before)
	}
	told := 0
	for _, raw := range fromSouth.raw {
		if text := string(raw); strings.Contains(text, "dana@mail.example") && strings.Contains(text, "passed your boat") {
			told++
		}
	}
	if told != 1 {
		t.Errorf("south told Dana %d times", told)
	}
	// And back: north has its boat, its parts and its books as they were.
	if out := south.transfer(t, north, "NB0001"); !strings.Contains(out, "NB0001 is at North Works now, as boat B1 of customer C1.") {
		t.Errorf("on the way back it says %s", out)
	}
	for query, want := range map[string]int64{
		"SELECT count(*) FROM boats": 1, "SELECT count(*) FROM boats WHERE gone IS NULL": 1, "SELECT count(*) FROM components": 1,
		"SELECT count(*) FROM records": 2, "SELECT sum(amount) FROM records": 60000, "SELECT count(*) FROM ownerships WHERE to_day IS NULL AND customer_id = 'C1'": 1,
	} {
		if got := north.count(t, query); got != want {
			t.Errorf("back at north: %s: %d, want %d", query, got, want)
		}
	}
}

// TestTransferCancelsTheAppointment: where the owner's calendar holds the booked day, the
// shop that the boat leaves cancels it there, once, in an email that names the sister
// shop: the same UID, a later sequence, METHOD:CANCEL (RFC 5546, 3.2.5).
func TestTransferCancelsTheAppointment(t *testing.T) {
	if testing.Short() {
		t.Skip("starts a daemon, or several commands")
	}
	_, north, south, fromNorth, _ := sisters(t)
	text, err := os.ReadFile(north.config())
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(north.config(), append(text, "\n[calendar]\nappointment = \"invitation\"\n"...), 0o600); err != nil {
		t.Fatal(err)
	}
	north.do(t, "book", "B1", "fit-out", "2027-04-28", "--at", "09:00")
	north.do(t, "mail", "send")
	before := len(fromNorth.copies())
	north.transfer(t, south, "B1")
	north.transfer(t, south, "B1")
	north.do(t, "mail", "send")
	if n := len(fromNorth.copies()); n != before+1 {
		t.Fatalf("north sent %d emails after the boat had gone, want 1", n-before)
	}
	letter := string(fromNorth.raw[fromNorth.order[len(fromNorth.order)-1]])
	_, coded, _ := strings.Cut(letter, "text/calendar; method=CANCEL; charset=UTF-8\r\n\r\n")
	coded, _, _ = strings.Cut(coded, "--")
	calendar, err := base64.StdEncoding.DecodeString(strings.Join(strings.Fields(coded), ""))
	if err != nil {
		t.Fatal(err)
	}
	for _, says := range []string{"METHOD:CANCEL\r\n", "STATUS:CANCELLED\r\n", "SEQUENCE:1\r\n", "South Works looks after this boat now"} {
		if !strings.Contains(letter+string(calendar), says) {
			t.Errorf("the email does not say %s:\n%s", says, letter)
		}
	}
	if n := north.count(t, "SELECT count(DISTINCT uid) FROM invitations") + 10*north.count(t, "SELECT count(*) FROM invitations WHERE cancelled = 1 AND sequence = 1"); n != 11 {
		t.Errorf("appointments on file: %d", n)
	}
}

// TestTransferRefuses what cannot be: without consent, to itself, to a place that the
// sister shop does not know, of a boat that nobody has.
func TestTransferRefuses(t *testing.T) {
	if testing.Short() {
		t.Skip("starts a daemon, or several commands")
	}
	_, north, south, _, _ := sisters(t)
	for name, c := range map[string]struct {
		args []string
		want string
	}{
		"no consent":   {[]string{"B1", "--to", south.config()}, "write down who consented"},
		"to itself":    {[]string{"B1", "--to", north.config(), "--consent-by", "Dana", "--consent-how", "by phone"}, "is the shop that has the boat"},
		"no place":     {[]string{"B1", "--to", south.config(), "--consent-by", "Dana", "--consent-how", "by phone", "--place", "Mars"}, `South Works has no place "Mars"; name one of its own: Lindrake Cove`},
		"unknown boat": {[]string{"B9", "--to", south.config(), "--consent-by", "Dana", "--consent-how", "by phone"}, "B9"},
		"tomorrow":     {[]string{"B1", "--to", south.config(), "--consent-by", "Dana", "--consent-how", "by phone", "--consent-on", "2027-04-09"}, "write down who consented"},
	} {
		if out := north.tryDo(t, append([]string{"transfer"}, c.args...)...); !strings.Contains(out, c.want) {
			t.Errorf("%s: %s\nwant %q", name, out, c.want)
		}
	}
	if n := south.count(t, "SELECT count(*) FROM boats") + north.count(t, "SELECT count(*) FROM transfers"); n != 1 {
		t.Errorf("something was written: %d", n)
	}
}

// TestTransferByPage: the desk sends a boat to a sister shop, and is told what the form
// lacks.
func TestTransferByPage(t *testing.T) {
	if testing.Short() {
		t.Skip("starts a daemon, or several commands")
	}
	folder, north, south, _, _ := sisters(t)
	if err := os.WriteFile(filepath.Join(folder, "group.toml"), []byte("[[group]]\nname = \"Two Lakes\"\nshops = [\"north\", \"south\"]\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	cookie := north.session(t)
	d := serveGroup(t, folder, north.today)
	if code, body := d.of(t, "north.example", "/boats/B1/owner", "Cookie", cookie); code != http.StatusOK || !strings.Contains(body, `<option value="south">South Works</option>`) || strings.Contains(body, `<option value="north">`) {
		t.Errorf("the page does not offer the sister shop: %d", code)
	}
	form := "what=sister&sister=south&place=Lindrake+Cove&consent_by=Dana+Whitlock&consent_on=2027-04-07&consent_how="
	for name, bad := range map[string]string{
		"no consent": form, "tomorrow": strings.Replace(form, "04-07", "04-09", 1) + "by+phone", "no such place": strings.Replace(form, "Lindrake", "Far", 1) + "by+phone",
		"no such shop": strings.Replace(form, "south", "west", 1) + "by+phone",
	} {
		if code := d.post(t, "north.example", "/boats/B1/owner", bad, cookie); code != http.StatusUnprocessableEntity {
			t.Errorf("%s: %d", name, code)
		}
	}
	if code := d.post(t, "north.example", "/boats/B1/owner", form+"signed+the+form", cookie); code != http.StatusSeeOther {
		t.Errorf("the form: %d", code)
	}
	d.stop(t)
	checkTransferred(t, north, south)
}

// TestTransferKilled kills the command at one moment after another, between the two
// files too. Afterwards the boat is at one shop or on its way, and the same command, or
// the daemon, brings it there once.
func TestTransferKilled(t *testing.T) {
	if testing.Short() {
		t.Skip("kills many transfers")
	}
	folder, _, _, _, _ := sisters(t)
	if err := os.WriteFile(filepath.Join(folder, "group.toml"), []byte("[[group]]\nname = \"Two Lakes\"\nshops = [\"north\", \"south\"]\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	cut := 0
	for i := range 12 {
		group := filepath.Join(t.TempDir(), "group")
		if err := os.CopyFS(group, os.DirFS(folder)); err != nil {
			t.Fatal(err)
		}
		north, south := &testShop{dir: filepath.Join(group, "north"), today: "2027-04-08"}, &testShop{dir: filepath.Join(group, "south"), today: "2027-04-08"}
		cmd := exec.Command(program, "--config", north.config(), "--today", north.today, "transfer", "B1", "--to", south.config(), "--consent-by", "Dana Whitlock", "--consent-how", "signed the form", "--consent-on", "2027-04-07")
		if err := cmd.Start(); err != nil {
			t.Fatal(err)
		}
		ended := make(chan error, 1)
		go func() { ended <- cmd.Wait() }()
		killTransfer(t, north, south, i%4, ended, cmd)
		if open := north.count(t, "SELECT count(*) FROM transfers WHERE done = 0"); open == 1 {
			cut++
		}
		if i%2 == 0 {
			north.transfer(t, south, "B1")
		} else {
			byDaemon(t, group, north, south)
		}
		checkTransferred(t, north, south)
	}
	t.Logf("%d of 12 were cut short between begin and end", cut)
	if cut == 0 {
		t.Error("none was cut short")
	}
}

// killTransfer kills a transfer at a stage: once it has begun, once the boat is at the sister
// shop, a while after that, or by chance.
func killTransfer(t *testing.T, north, south *testShop, stage int, ended chan error, cmd *exec.Cmd) {
	t.Helper()
	look := map[int]func() bool{
		0: func() bool { return north.count(t, "SELECT count(*) FROM transfers") > 0 },
		1: func() bool { return south.count(t, "SELECT count(*) FROM transfers") > 0 },
	}[stage]
	for end := time.Now().Add(patience); look != nil && !look(); {
		select {
		case err := <-ended:
			if err != nil {
				t.Fatalf("the transfer failed: %v", err)
			}
			return
		default:
		}
		if time.Now().After(end) {
			t.Fatal("the transfer does not get on")
		}
	}
	if look == nil {
		time.Sleep(time.Duration(stage) * 40 * time.Millisecond)
	}
	_ = cmd.Process.Kill()
	<-ended
}

// byDaemon has a daemon of both shops finish what was begun; what was not is begun by
// the command.
func byDaemon(t *testing.T, group string, north, south *testShop) {
	t.Helper()
	if north.count(t, "SELECT count(*) FROM transfers") == 0 {
		north.transfer(t, south, "B1")
	}
	d := serveGroup(t, group, north.today)
	d.until(t, "the daemon to finish the transfer", func() bool {
		return north.count(t, "SELECT count(*) FROM transfers WHERE done = 1") == 1
	})
	d.stop(t)
}

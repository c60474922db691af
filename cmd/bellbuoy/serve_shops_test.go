package main

import (
	"bytes"
	"context"
	"errors"
	"flag"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/mail"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"syscall"
	"testing"
	"time"

	"bellbuoy/cmd/bellbuoy/internal/config"
	"bellbuoy/schedule/civil"
	"bellbuoy/store/accounts"
	"bellbuoy/store/storetest"
)

// shopAt makes a shop of the scripts' settings in a group's folder, with Inge at
// its desk.
func shopAt(t testing.TB, group, folder, name string) *testShop {
	t.Helper()
	s := &testShop{dir: filepath.Join(group, folder), today: "2026-11-25"}
	settings := strings.NewReplacer("http://127.0.0.1:8410", "https://"+folder+".example", "Lindrake Cove Boat Works", name).Replace(lindrake(t, ""))
	if err := os.MkdirAll(s.dir, 0o700); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(s.config(), []byte(settings), 0o600); err != nil {
		t.Fatal(err)
	}
	s.doWith(t, strings.NewReader(password+"\n"), "staff", "add", "Inge", "--role", "desk")
	return s
}

// serveGroup starts one daemon for all shops of a folder.
func serveGroup(t testing.TB, group, today string) *served {
	t.Helper()
	nobody := &testShop{dir: t.TempDir(), today: today}
	return nobody.serveWith(t, "serve", "--shops", group, "--listen", "127.0.0.1:0", "--today", today)
}

// of asks a daemon of several shops for a page of one.
func (d *served) of(t testing.TB, host, path string, header ...string) (int, string) {
	t.Helper()
	req, err := http.NewRequestWithContext(t.Context(), http.MethodGet, d.base+path, nil)
	if err != nil {
		t.Fatal(err)
	}
	req.Host = host
	for i := 0; i+1 < len(header); i += 2 {
		req.Header.Set(header[i], header[i+1])
	}
	resp, err := http.DefaultTransport.RoundTrip(req)
	if err != nil {
		t.Fatal(err)
	}
	defer resp.Body.Close()
	body, err := io.ReadAll(resp.Body)
	if err != nil {
		t.Fatal(err)
	}
	return resp.StatusCode, string(body)
}

// session signs Inge in at a shop's file and returns her cookie.
func (s *testShop) session(t testing.TB) string { return s.sessionOf(t, "Inge") }

// sessionOf is the same of anybody with an account.
func (s *testShop) sessionOf(t testing.TB, name string) string {
	t.Helper()
	h := s.open(t)
	day, err := civil.Parse(s.today)
	if err != nil {
		t.Fatal(err)
	}
	token := "a-session-of-" + name + "-at-" + filepath.Base(s.dir)
	if err := accounts.BeginSession(t.Context(), storetest.Writer(t, h.DB), day.At(0, 0, h.Config.Zone()), token, name, day.AddMonths(1).At(0, 0, h.Config.Zone())); err != nil {
		t.Fatal(err)
	}
	if err := h.Close(); err != nil {
		t.Fatal(err)
	}
	return "bellbuoy_session=" + token
}

// TestServeShops: each shop answers at its own host name and knows its own staff
// only; one with a fault is named and stops nobody else, and opens once it is
// mended.
func TestServeShops(t *testing.T) {
	if testing.Short() {
		t.Skip("starts a daemon, or several commands")
	}
	group := t.TempDir()
	north, south := shopAt(t, group, "north", "North Works"), shopAt(t, group, "south", "South Works")
	broken := filepath.Join(group, "west", "bellbuoy.toml")
	if err := os.MkdirAll(filepath.Dir(broken), 0o700); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(broken, []byte("[shop]\nnaem = \"West\"\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	twice := shopAt(t, group, "twice", "Second of a name")
	text, err := os.ReadFile(twice.config())
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(twice.config(), []byte(strings.Replace(string(text), "twice.example", "north.example", 1)), 0o600); err != nil {
		t.Fatal(err)
	}
	lost := shopAt(t, group, "lost", "Lost Works") // its database is gone, a backup is not
	if err := os.Mkdir(filepath.Join(lost.dir, "backups"), 0o700); err != nil {
		t.Fatal(err)
	}
	if err := os.Rename(filepath.Join(lost.dir, "bellbuoy.db"), filepath.Join(lost.dir, "backups", "bellbuoy-2026-11-24.db")); err != nil {
		t.Fatal(err)
	}
	cookies := map[string]string{"north.example": north.session(t), "south.example": south.session(t)}
	d := serveGroup(t, group, "2026-11-25")

	names := map[string]string{"north.example": "North Works", "south.example": "South Works"}
	for host, name := range names {
		if code, body := d.of(t, host+":443", "/", "Cookie", cookies[host]); code != http.StatusOK || !strings.Contains(body, name) {
			t.Errorf("%s: %d\n%.300s", host, code, body)
		}
		for other, cookie := range cookies {
			if code, body := d.of(t, host, "/", "Cookie", cookie); other != host && (code == http.StatusOK || strings.Contains(body, "This week")) {
				t.Errorf("the session of %s opens %s: %d", other, host, code)
			}
		}
	}
	if code, body := d.of(t, "elsewhere.example", "/"); code != http.StatusMisdirectedRequest || strings.Contains(body, "Works") {
		t.Errorf("a host of nobody: %d %s", code, body)
	}
	if code, body := d.of(t, "elsewhere.example", "/healthz"); code != http.StatusMisdirectedRequest || strings.Contains(body, "north") {
		t.Errorf("the list of shops for a stranger: %d %s", code, body)
	}
	if code, body := d.of(t, "north.example", "/healthz"); code != http.StatusOK || body != "ok\n" {
		t.Errorf("health of one shop: %d %s", code, body)
	}
	code, list := d.of(t, "127.0.0.1", "/healthz")
	if code != http.StatusServiceUnavailable || !strings.Contains(list, "north: ok\nsouth: ok\n") || !strings.Contains(list, "west: not open: ") || !strings.Contains(list, "naem") {
		t.Errorf("health of all: %d\n%s", code, list)
	}
	if !strings.Contains(list, "twice: not open: settings: shop.url: the host north.example is that of north already") {
		t.Errorf("two shops of one host:\n%s", list)
	}
	if !strings.Contains(list, "lost: not open: settings: files.database: ") || !strings.Contains(list, "though a shop ran here") {
		t.Errorf("a shop without its database:\n%s", list)
	}

	if err := os.WriteFile(broken, []byte(strings.NewReplacer("http://127.0.0.1:8410", "https://west.example", "Lindrake Cove Boat Works", "West Works").Replace(lindrake(t, ""))), 0o600); err != nil {
		t.Fatal(err)
	}
	d.signal(syscall.SIGHUP)
	d.until(t, "the mended shop", func() bool {
		code, _ := d.of(t, "west.example", "/sign-in")
		return code == http.StatusOK
	})
	if took := d.stop(t); took > stopGrace {
		t.Errorf("stopped after %v", took)
	}
}

// until waits for what another process is to do.
func (d *served) until(t testing.TB, what string, done func() bool) {
	t.Helper()
	for end := time.Now().Add(patience); !done(); time.Sleep(50 * time.Millisecond) {
		if time.Now().After(end) {
			t.Fatalf("%s: not within %v\n%s", what, patience, d.lines())
		}
	}
}

// TestServeShopsRefuses a folder without a shop, and a shop's settings beside it.
func TestServeShopsRefuses(t *testing.T) {
	for name, c := range map[string]struct {
		args []string
		want string
	}{
		"no shop in it":   {[]string{"serve", "--shops", t.TempDir()}, "has no folder with a bellbuoy.toml in it"},
		"no folder":       {[]string{"serve", "--shops", filepath.Join(t.TempDir(), "none")}, "no such file"},
		"one shop's too":  {[]string{"serve", "--shops", t.TempDir(), "--config", "x.toml"}, "--config"},
		"address in use?": {[]string{"serve", "--shops", t.TempDir(), "--listen", "nowhere"}, "has no folder"},
	} {
		var fault strings.Builder
		if code := run(context.Background(), env{in: strings.NewReader(""), out: io.Discard, err: &fault, now: time.Now}, c.args); code == exitOK || !strings.Contains(fault.String(), c.want) {
			t.Errorf("%s: %d %s", name, code, fault.String())
		}
	}
}

// TestAHungMailboxKeepsNoShopWaiting: shops whose mailbox server never answers keep no
// other shop from its turn, however many they are.
func TestAHungMailboxKeepsNoShopWaiting(t *testing.T) {
	if testing.Short() {
		t.Skip("starts a daemon, or several commands")
	}
	ln, err := net.Listen("tcp", "127.0.0.1:0") // takes connections and says nothing
	if err != nil {
		t.Fatal(err)
	}
	defer ln.Close()
	folder := t.TempDir()
	for i := range turnsAtOnce() + 1 {
		s := shopAt(t, folder, fmt.Sprintf("hung%d", i), "Hung Works")
		f, err := os.OpenFile(s.config(), os.O_APPEND|os.O_WRONLY, 0)
		if err != nil {
			t.Fatal(err)
		}
		_, err = fmt.Fprintf(f, "\n[mail.imap]\nserver = %q\nsecurity = \"none\"\nuser = \"desk\"\npassword_file = \"password\"\n", ln.Addr())
		if err := errors.Join(err, f.Close(), os.WriteFile(filepath.Join(s.dir, "password"), []byte("secret"), 0o600)); err != nil {
			t.Fatal(err)
		}
	}
	d := serveGroup(t, folder, "2026-11-25")
	if err := ln.(*net.TCPListener).SetDeadline(time.Now().Add(patience)); err != nil {
		t.Fatal(err)
	}
	for i := range turnsAtOnce() + 1 {
		conn, err := ln.Accept()
		if err != nil {
			t.Fatalf("%d shops look into their mailbox and no more: %v", i, err)
		}
		defer conn.Close()
	}
	d.stop(t)
}

var (
	groupShops = flag.Int("shops", 3, "shops in the daemon of BenchmarkServeShops")
	groupBoats = flag.Int("shop-boats", 400, "boats in each of them")
	groupKeep  = flag.String("keep-shops", "", "folder in which BenchmarkServeShops keeps its shops from one run to the next")
)

// nightDone is how many shops of a folder have backed up on a day, which is the last
// thing of a night.
func nightDone(b *testing.B, group string, day civil.Day) int {
	b.Helper()
	done, err := filepath.Glob(filepath.Join(group, "*", "backups", "bellbuoy-"+day.String()+".db"))
	if err != nil {
		b.Fatal(err)
	}
	return len(done)
}

// benchGroup is a folder of shops that have had their night of the day returned, and
// a cookie that opens each.
func benchGroup(b *testing.B) (group string, day civil.Day, cookie string) {
	b.Helper()
	group = *groupKeep
	if group == "" {
		group = b.TempDir()
	}
	state := filepath.Join(group, "state")
	if text, err := os.ReadFile(state); err == nil {
		on, cookie, _ := strings.Cut(string(text), " ")
		if day, err = civil.Parse(on); err != nil {
			b.Fatal(err)
		}
		return group, day, cookie
	}
	day = civil.Of(2026, time.November, 25)
	first := inventedShop(b, demoSettings("127.0.0.1:8410", "127.0.0.1:1", false), *groupBoats, day)
	h := first.open(b)
	if err := accounts.SaveStaff(b.Context(), storetest.Writer(b, h.DB), time.Now(), "test", accounts.Staff{Name: "Inge", Role: "desk", Hash: "none"}); err != nil {
		b.Fatal(err)
	}
	if err := h.Close(); err != nil {
		b.Fatal(err)
	}
	cookie = first.session(b)
	settings, err := os.ReadFile(first.config())
	if err != nil {
		b.Fatal(err)
	}
	for i := range *groupShops {
		dir := filepath.Join(group, fmt.Sprintf("shop%03d", i))
		if err := os.CopyFS(dir, os.DirFS(first.dir)); err != nil {
			b.Fatal(err)
		}
		own := strings.Replace(string(settings), "http://127.0.0.1:8410", fmt.Sprintf("https://shop%03d.example", i), 1)
		if err := os.WriteFile(filepath.Join(dir, "bellbuoy.toml"), []byte(own), 0o600); err != nil {
			b.Fatal(err)
		}
	}
	d := serveGroup(b, group, day.String())
	d.until(b, "the first night, in which every shop is planned", func() bool { return nightDone(b, group, day) == *groupShops })
	d.stop(b)
	if err := os.WriteFile(state, []byte(day.String()+" "+cookie), 0o600); err != nil {
		b.Fatal(err)
	}
	return group, day, cookie
}

// BenchmarkServeShops measures one daemon with several shops on a night like any
// other: until it answers (s-start), until every shop has had its night (s-night) and
// the processor time of that (s-night-cpu, pages included); how many pages were asked
// for meanwhile and how long one took; its memory before the night, at the most, and
// once it has come to rest; beside it one daemon with one of the shops.
func BenchmarkServeShops(b *testing.B) {
	patience = time.Hour // hundreds of shops, and whatever else the machine does
	group, day, cookie := benchGroup(b)
	settings, err := filepath.Glob(filepath.Join(group, "*", "bellbuoy.toml"))
	if err != nil {
		b.Fatal(err)
	}
	var hosts []string
	for _, path := range settings {
		c, err := config.Load(path)
		if err != nil {
			b.Fatal(err)
		}
		hosts = append(hosts, c.Host())
	}
	megabytes := func(bytes int64, unit string) { b.ReportMetric(float64(bytes)/(1<<20), unit) }
	alone := &testShop{dir: filepath.Dir(settings[0]), today: day.String()}
	for b.Loop() {
		one := alone.serve(b)
		if code, body := one.of(b, hosts[0], "/", "Cookie", cookie); code != http.StatusOK {
			b.Fatalf("%d %.300s", code, body)
		}
		untilQuiet(b, one)
		megabytes(one.resident(b), "MB-alone")
		one.stop(b)
		day++
		begun := time.Now()
		d := serveGroup(b, group, day.String())
		b.ReportMetric(time.Since(begun).Seconds(), "s-start")
		megabytes(d.resident(b), "MB-before")
		pages := d.pagesMeanwhile(b, hosts, cookie, func() bool { return nightDone(b, group, day) == len(hosts) })
		b.ReportMetric(time.Since(begun).Seconds(), "s-night")
		b.ReportMetric(d.processor(b).Seconds(), "s-night-cpu")
		b.ReportMetric(float64(len(pages)), "pages")
		b.ReportMetric(float64(pages[len(pages)*99/100].Microseconds())/1000, "ms-page-p99")
		b.ReportMetric(float64(pages[len(pages)/2].Microseconds())/1000, "ms-page-median")
		megabytes(d.memory(b, "VmHWM"), "MB-peak")
		untilQuiet(b, d)
		megabytes(d.resident(b), "MB-after")
		d.stop(b)
		if err := os.WriteFile(filepath.Join(group, "state"), []byte(day.String()+" "+cookie), 0o600); err != nil {
			b.Fatal(err)
		}
	}
}

// pagesMeanwhile asks one shop after the other for the page that the desk begins its
// day with, twenty a second at the most, until something is done; it returns how long
// each took, the shortest first.
func (d *served) pagesMeanwhile(b *testing.B, hosts []string, cookie string, done func() bool) (took []time.Duration) {
	b.Helper()
	for !done() {
		for i := range 20 {
			asked := time.Now()
			if code, body := d.of(b, hosts[(len(took)+i*7)%len(hosts)], "/", "Cookie", cookie); code != http.StatusOK {
				b.Fatalf("%d %.300s", code, body)
			}
			took = append(took, time.Since(asked))
			time.Sleep(45 * time.Millisecond)
		}
	}
	slices.Sort(took)
	return took
}

// importRows imports files of these names and texts.
func (s *testShop) importRows(t testing.TB, files map[string]string) {
	t.Helper()
	dir := t.TempDir()
	for name, text := range files {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	s.do(t, "import", dir)
}

// TestServeGroup: an owner whom the group names sees its shops side by side on the
// pages of their own shop; nobody else does, and a fault in the file of groups is
// said and closes no shop.
func TestServeGroup(t *testing.T) {
	if testing.Short() {
		t.Skip("starts a daemon, or several commands")
	}
	folder := t.TempDir()
	north, south := shopAt(t, folder, "north", "North Works"), shopAt(t, folder, "south", "South Works")
	for _, s := range []*testShop{north, south} {
		s.doWith(t, strings.NewReader(password+"\n"), "staff", "add", "Marta", "--role", "owner")
		s.doWith(t, strings.NewReader(password+"\n"), "staff", "add", "Olaf", "--role", "owner")
	}
	north.importRows(t, map[string]string{
		"customers.csv": "customer_id,name,email\nC1,Dana Whitlock,dana@mail.example\n",
		"boats.csv":     "boat_id,customer_id,sold_on,make,model,kind,water,place,berth\nB1,C1,2024-05-01,Skiff,17,runabout,fresh,Lindrake Cove,own-dock\n",
		"history.csv":   "boat_id,component_id,day,service,by,amount\nB1,,2026-09-10,lay-up,shop,480.00\nB1,,2025-09-10,lay-up,shop,450.00\n",
	})
	groups := filepath.Join(folder, "group.toml")
	if err := os.WriteFile(groups, []byte("[[group]]\nname = \"Two Lakes\"\nshops = [\"north\", \"south\"]\nowners = [{shop = \"north\", name = \"Marta\"}]\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	cookies := map[string]string{"Inge": north.session(t), "Marta": north.sessionOf(t, "Marta"), "Olaf": north.sessionOf(t, "Olaf")}
	elsewhere := south.sessionOf(t, "Marta")
	d := serveGroup(t, folder, "2026-11-25")
	code, body := d.of(t, "north.example", "/owner/group", "Cookie", cookies["Marta"])
	for _, want := range []string{"<h1>Two Lakes</h1>", "North Works", "South Works", ">$480<", "https://north.example/owner/list/work?from=2026-08-01", ">$450<"} {
		if code != http.StatusOK || !strings.Contains(body, want) {
			t.Errorf("the group's page: %d, lacks %q\n%s", code, want, body)
		}
	}
	if strings.Contains(body, "Whitlock") {
		t.Error("the group's page names a customer")
	}
	if code, body := d.of(t, "north.example", "/owner", "Cookie", cookies["Marta"]); code != http.StatusOK || !strings.Contains(body, `href="/owner/group"`) {
		t.Errorf("the owner's pages do not lead to the group: %d", code)
	}
	for who, want := range map[string]int{"Inge": http.StatusForbidden, "Olaf": http.StatusNotFound} {
		if code, body := d.of(t, "north.example", "/owner/group", "Cookie", cookies[who]); code != want || strings.Contains(body, "South Works") {
			t.Errorf("%s: %d, want %d", who, code, want)
		}
	}
	if code, body := d.of(t, "south.example", "/owner/group", "Cookie", elsewhere); code != http.StatusNotFound || strings.Contains(body, "North Works") {
		t.Errorf("an owner of the same name elsewhere: %d", code)
	}
	if code, body := d.of(t, "north.example", "/owner", "Cookie", cookies["Olaf"]); code != http.StatusOK || strings.Contains(body, `href="/owner/group"`) {
		t.Errorf("the pages of an owner who is not named lead to the group: %d", code)
	}

	if err := os.WriteFile(groups, []byte("[[group]]\nnaem = \"Two Lakes\"\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	d.signal(syscall.SIGHUP)
	d.until(t, "the fault in the file of groups", func() bool {
		code, list := d.of(t, "127.0.0.1", "/healthz")
		return code == http.StatusServiceUnavailable && strings.Contains(list, "group.toml:2: group.naem: no such setting") && strings.Contains(list, "north: ok\nsouth: ok\n")
	})
	if code, _ := d.of(t, "north.example", "/owner/group", "Cookie", cookies["Marta"]); code != http.StatusOK {
		t.Errorf("after a fault the group is gone: %d", code)
	}
	d.stop(t)
}

// recipients are how many emails each address got.
func (b *mailbox) recipients(t testing.TB) map[string]int {
	t.Helper()
	b.mu.Lock()
	defer b.mu.Unlock()
	got := make(map[string]int)
	for id, raw := range b.raw {
		m, err := mail.ReadMessage(bytes.NewReader(raw))
		if err != nil {
			t.Fatal(err)
		}
		to, err := mail.ParseAddress(m.Header.Get("To"))
		if err != nil {
			t.Fatal(err)
		}
		got[strings.ToLower(to.Address)] += b.accepted[id]
	}
	return got
}

// TestSharedStops: who stopped reminders at one shop, and an address that is dead
// there, get nothing from a sister shop, which catches up when it opens; somebody
// who did not stop gets theirs. Taken back at either shop, it is taken back at both.
func TestSharedStops(t *testing.T) {
	if testing.Short() {
		t.Skip("starts a daemon, or several commands")
	}
	folder, box := t.TempDir(), newMailbox(t)
	north, south := shopAt(t, folder, "north", "North Works"), shopAt(t, folder, "south", "South Works")
	if err := os.WriteFile(filepath.Join(folder, "group.toml"), []byte("[[group]]\nname = \"Two Lakes\"\nshops = [\"north\", \"south\"]\nshare_stops = true\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	settings, err := os.ReadFile(south.config())
	if err != nil {
		t.Fatal(err)
	}
	settings = append(settings, box.settings()...)
	if err := os.WriteFile(south.config(), settings, 0o600); err != nil {
		t.Fatal(err)
	}
	customers := "customer_id,name,email,contact_by\nC1,Dana Whitlock,%s,email\nC2,Erik Sandoval,erik@mail.example,email\nC3,Fay Okonjo,fay@mail.example,email\n"
	north.importRows(t, map[string]string{"customers.csv": fmt.Sprintf(customers, "dana@mail.example")})
	rows := map[string]string{"customers.csv": fmt.Sprintf(customers, "Dana@Mail.example"), "boats.csv": "boat_id,customer_id,sold_on,make,model,kind,water,place,berth\n",
		"components.csv": "component_id,boat_id,kind,label,propulsion,stroke,fuel,cooling,in_service,expires\n"}
	for _, n := range []string{"1", "2", "3"} {
		rows["boats.csv"] += "B" + n + ",C" + n + ",2024-05-01,Skiff,17,runabout,fresh,Lindrake Cove,own-dock\n"
		rows["components.csv"] += "E" + n + ",B" + n + ",engine,,outboard,four,gasoline,raw-water,2024-05-01,\n"
	}
	south.importRows(t, rows)
	south.do(t, "mail", "on")
	const day = "2027-04-06" // a Tuesday on which all three are reminded of the spring commissioning
	north.today, south.today = day, day

	// South does not open at first; meanwhile Dana stops at north and Erik's address is
	// found dead there.
	broken := append([]byte("nonsense = 1\n"), settings...)
	if err := os.WriteFile(south.config(), broken, 0o600); err != nil {
		t.Fatal(err)
	}
	cookie := north.session(t)
	h := north.open(t)
	at := time.Date(2027, 4, 6, 9, 0, 0, 0, h.Config.Zone())
	storetest.Raw(t, storetest.Writer(t, h.DB), fmt.Sprintf("INSERT INTO suppressions (address, reason, since) VALUES ('erik@mail.example', '550 no such user', %d)", at.Unix()))
	if err := errors.Join(h.ChooseMails(t.Context(), at, "Inge", "C1", true, true), h.Close()); err != nil {
		t.Fatal(err)
	}
	d := serveGroup(t, folder, day)
	d.until(t, "the first turn of north", func() bool { return strings.Contains(d.lines(), "shop=north") })
	if err := os.WriteFile(south.config(), settings, 0o600); err != nil {
		t.Fatal(err)
	}
	d.signal(syscall.SIGHUP)
	d.until(t, "the email to who did not stop", func() bool { return box.recipients(t)["fay@mail.example"] == 1 })
	d.until(t, "south to catch up", func() bool {
		return strings.Contains(d.lines(), `msg="took over stops of a sister shop" shop=south of=north changed=2`)
	})
	inge := south.session(t)
	if _, body := d.of(t, "south.example", "/customers/C1", "Cookie", inge); !strings.Contains(body, "North Works (sister shop)") {
		t.Errorf("the history at south does not say where Dana stopped:\n%s", body)
	}
	if _, body := d.of(t, "south.example", "/customers/C2", "Cookie", inge); !strings.Contains(body, "at North Works: 550 no such user") {
		t.Errorf("south does not say why Erik's address is not used:\n%s", body)
	}

	// Taken back, each at another shop than where it was said.
	for path, form := range map[string]string{"/customers/C1/mails": "mails=all", "/customers/C2/address": ""} {
		if code := d.post(t, "south.example", path, form, inge); code != http.StatusSeeOther {
			t.Fatalf("%s: %d", path, code)
		}
	}
	d.signal(syscall.SIGHUP)
	d.until(t, "north to hear that it is taken back", func() bool {
		return strings.Contains(d.lines(), `msg="took over stops of a sister shop" shop=north of=south changed=2`)
	})
	if _, body := d.of(t, "north.example", "/customers/C1", "Cookie", cookie); !strings.Contains(body, "South Works (sister shop)") {
		t.Errorf("the history at north does not say where it was taken back:\n%s", body)
	}
	d.stop(t)
	if got := box.recipients(t); got["dana@mail.example"]+got["erik@mail.example"] != 0 {
		t.Errorf("emails after the stop: %v", got)
	}
}

// post sends a form to a page of one of several shops, signed in by a cookie.
func (d *served) post(t testing.TB, host, path, form, cookie string) int {
	t.Helper()
	req, err := http.NewRequestWithContext(t.Context(), http.MethodPost, d.base+path, strings.NewReader(form))
	if err != nil {
		t.Fatal(err)
	}
	req.Host = host
	req.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	req.Header.Set("Cookie", cookie)
	resp, err := http.DefaultTransport.RoundTrip(req)
	if err != nil {
		t.Fatal(err)
	}
	defer resp.Body.Close()
	return resp.StatusCode
}

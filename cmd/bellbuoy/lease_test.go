package main

import (
	"crypto/md5"
	"fmt"
	"io"
	"maps"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/spf13/cobra"
)

// leaseStore is a storage of one object that honors conditions, as the drill in
// testdata/failover has a real one. While somebody else is at work the object is another
// one at each look, as one who renews it makes it.
type leaseStore struct {
	mu     sync.Mutex
	body   string
	other  string // who is at work and no daemon of ours, "" for nobody
	looked int
}

func (l *leaseStore) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.looked++; l.other != "" {
		l.body = fmt.Sprintf(`{"holder": %q, "count": %d}`, l.other, l.looked)
	}
	tag := ""
	if l.body != "" {
		tag = fmt.Sprintf(`"%x"`, md5.Sum([]byte(l.body)))
	}
	if r.Method == http.MethodPut {
		if match := r.Header.Get("If-Match"); match != "" && match != tag || r.Header.Get("If-None-Match") == "*" && tag != "" {
			w.WriteHeader(http.StatusPreconditionFailed)
			return
		}
		text, _ := io.ReadAll(r.Body)
		l.body = string(text)
		w.Header().Set("ETag", fmt.Sprintf(`"%x"`, md5.Sum(text)))
		return
	}
	if tag == "" {
		w.WriteHeader(http.StatusNotFound)
		return
	}
	w.Header().Set("ETag", tag)
	io.WriteString(w, l.body)
}

// set says who else is at work, and returns how often the lease was looked at before.
func (l *leaseStore) set(other string) (looked int) {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.other, looked = other, l.looked
	l.looked = 0
	return looked
}

// changing are commands that change the shop, each with a line that would. Those that have
// no line here only look, write a file beside the shop, or put another in its place.
var changing = map[string]string{
	"import":                    "import %s",
	"duplicates merge":          "duplicates merge C1 C2",
	"duplicates unmerge":        "duplicates unmerge C2",
	"duplicates reject":         "duplicates reject C1 C2",
	"duplicates merge-agreeing": "duplicates merge-agreeing",
	"duplicates unmerge-step":   "duplicates unmerge-step 1",
	"record":                    "record B1 hull-check",
	"followup":                  "followup B1 impeller",
	"override":                  "override B1 impeller --months 12",
	"book":                      "book B1 lay-up 2026-12-01",
	"transfer":                  "transfer B1 --to %s/bellbuoy.toml",
	"feed":                      "feed B1 --revoke",
	"key":                       "key --renew",
	"mail on":                   "mail on",
	"mail off":                  "mail off",
	"mail release":              "mail release",
	"mail again":                "mail again 1",
	"mail bounce":               "mail bounce",
	"climate load":              "climate load %s/climate.csv --place Cove",
	"climate forget":            "climate forget Cove",
	"staff add":                 "staff add Ines --role desk",
	"staff remove":              "staff remove Ines",
	"staff sign-out":            "staff sign-out Ines",
	"staff unlock":              "staff unlock Ines",
	"customer erase":            "customer erase C1",
}

// looking are the other commands.
var looking = []string{
	"backup", "check", "climate show", "climate watch", "customer show", "demo", "due", "duplicates", "duplicates merged", "export", "hours", "init",
	"mail list", "mail preview", "mail send", "mail status", "mail texts", "man", "parts", "plan", "reload", "restore", "returns", "rules check", "rules example", "rules list",
	"serve", "staff list", "version", "weeks",
}

// TestEveryCommandIsKnownToChangeOrNot: a command that is added says which of the two it
// is, so that none writes beside a machine that took over.
func TestEveryCommandIsKnownToChangeOrNot(t *testing.T) {
	var all []string
	var walk func(c *cobra.Command)
	walk = func(c *cobra.Command) {
		if c.RunE != nil && c.HasParent() && !(c.HasSubCommands() && c.Name() != "duplicates") {
			all = append(all, strings.TrimPrefix(c.CommandPath(), "bellbuoy "))
		}
		for _, sub := range c.Commands() {
			walk(sub)
		}
	}
	walk(rootCommand(env{}))
	slices.Sort(all)
	known := slices.Sorted(slices.Values(slices.Concat(slices.Collect(maps.Keys(changing)), looking)))
	if !slices.Equal(all, known) {
		t.Errorf("commands\n%q\nhere\n%q", all, known)
	}
}

// TestAReplacedMachineTakesNoCommands: a machine's daemon has the lease, and its commands
// change the shop at once, also when the daemon has died. While another machine renews the
// lease each command that would change something is refused and says what to do, and what
// only looks is not. Once nobody renews it, the lease keeps no command from working.
func TestAReplacedMachineTakesNoCommands(t *testing.T) {
	if testing.Short() {
		t.Skip("starts a daemon and many commands")
	}
	storage := &leaseStore{}
	srv := httptest.NewServer(storage)
	defer srv.Close()
	s := newShop(t, lindrake(t, fmt.Sprintf("\n[mail]\nfrom = \"Cove <service@cove.example>\"\n[lease]\nobject = %q\nkeys_file = \"lease.keys\"\n", srv.URL+"/bucket/lease")))
	s.today = "2026-11-25"
	for name, text := range map[string]string{
		"lease.keys":  "key\nsecret\n",
		"climate.csv": "\"STATION\",\"NAME\",\"ANN-TMIN-PRBFST-T32FP10\",\"ANN-TMIN-PRBFST-T32FP50\",\"ANN-TMIN-PRBFST-T32FP90\"\n\"USW00000000\",\"A STATION, US\",\"10/03\",\"10/15\",\"11/01\"\n",
	} {
		if err := os.WriteFile(filepath.Join(s.dir, name), []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	work := func(line string) string {
		return s.tryDo(t, strings.Fields(strings.ReplaceAll(line, "%s", s.dir))...)
	}
	s.importRows(t, map[string]string{"customers.csv": "customer_id,name,email\nC1,Dana,dana@mail.example\nC2,Erik,erik@mail.example\n",
		"boats.csv": "boat_id,customer_id,sold_on,make,model,kind,water,place,berth\nB1,C1,2024-05-01,Skiff,17,runabout,fresh,Lindrake Cove,own-dock\n"})
	d := s.serve(t)
	for end := time.Now().Add(patience); !strings.Contains(d.lines(), "this machine has the lease"); time.Sleep(50 * time.Millisecond) {
		if time.Now().After(end) {
			t.Fatalf("the daemon takes no lease\n%s", d.lines())
		}
	}
	storage.set("")
	s.do(t, "record", "B1", "hull-check")
	d.kill()
	s.do(t, "mail", "on")
	if looked := storage.set("heir SOMETHING"); looked > 5 { // two by commands, the others by the daemon
		t.Errorf("the lease was looked at %d times for two commands of its own machine", looked)
	}
	before := s.count(t, "SELECT max(id) FROM audit")
	t.Run("refused", func(t *testing.T) {
		for name, line := range changing {
			t.Run(name, func(t *testing.T) {
				t.Parallel()
				if out := work(line); !strings.Contains(out, `another machine runs this shop now: "heir" renews the lease`) || !strings.Contains(out, "nothing was changed here\nhint: give the command there") {
					t.Errorf("bellbuoy %s:\n%s", line, out)
				}
			})
		}
	})
	for _, line := range []string{"due", "mail status", "feed B1", "key", "import --dry-run %s", "backup %s/b.db"} {
		if out := work(line); strings.Contains(out, "another machine") {
			t.Errorf("bellbuoy %s:\n%s", line, out)
		}
	}
	if after := s.count(t, "SELECT max(id) FROM audit"); after != before {
		t.Errorf("%d changes were made", after-before)
	}
	storage.set("")
	if out := work("mail off"); !strings.Contains(out, "Sending is off") {
		t.Errorf("a lease that nobody renews keeps a command from working:\n%s", out)
	}
	srv.Close()
	if out := work("mail on"); !strings.Contains(out, "is not known, and this goes on") || !strings.Contains(out, "Sending is on") {
		t.Errorf("a storage that does not answer keeps a command from working:\n%s", out)
	}
}

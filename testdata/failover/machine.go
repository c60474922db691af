package main

import (
	"bytes"
	"context"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"sync"
	"syscall"
	"time"
)

// machine is one of the two: an address, a folder, and processes.
type machine struct {
	name   string // what its daemon tells the mail server
	dir    string
	listen string
	wire   *wire
	path   string // of its replicas in the storage
	tools  tools

	daemon, replicate *exec.Cmd
	log               *os.File
}

type tools struct{ bellbuoy, litestream string }

const keys = "drill\nno-secret\n"

// The invented shop's days are moved so that its 15 March 2027, a Monday before the
// season on which reminders are due, is today: its daemons go by the real clock, since
// the one that takes over must not be earlier than the one that failed.
var moved = int(time.Now().UTC().Sub(time.Date(2027, 3, 15, 0, 0, 0, 0, time.UTC)).Hours() / 24)

var isoDay = regexp.MustCompile(`\b20\d\d-\d\d-\d\d\b`)

func move(text string) string {
	return isoDay.ReplaceAllStringFunc(text, func(s string) string {
		d, err := time.Parse(time.DateOnly, s)
		if err != nil {
			return s
		}
		return d.AddDate(0, 0, moved).Format(time.DateOnly)
	})
}

// places are where the invented shop's boats float, with launch and winterization.
func places() string {
	var all strings.Builder
	for name, days := range map[string][2]string{"Lindrake Cove": {"2027-05-15", "2027-10-10"}, "Port Averil": {"2027-05-08", "2027-10-18"},
		"Tolliver Landing": {"2027-05-12", "2027-10-12"}, "North Narrows": {"2027-05-24", "2027-09-30"}, "Heron Reach": {"2027-05-01", "2027-10-24"}} {
		fmt.Fprintf(&all, "[[place]]\nname = %q\nlaunch = %q\nwinterize_by = %q\n", name, move(days[0])[5:], move(days[1])[5:])
	}
	return all.String() + "[[place]]\nname = \"Sable Quay\"\n"
}

// settle writes the settings of every shop: they are on both machines beforehand.
func (m *machine) settle(mailServer string) error {
	var dbs strings.Builder
	for _, s := range shops {
		dir := filepath.Join(m.dir, "shops", s)
		if err := os.MkdirAll(dir, 0o700); err != nil {
			return err
		}
		settings := fmt.Sprintf(`[shop]
name = "%[1]s Boat Works"
address = "4 Slipway Lane, Lindrake Cove"
url = "http://%[1]s.example"
time_zone = "UTC"
[weeks]
holiday_calendar = ""
[reminders]
from_hour = "00:00"
until_hour = "23:59"
saturdays = true
[mail]
from = "Boat Works <service@%[1]s.example>"
server = "%[2]s"
security = "none"
hello = "%[3]s"
per_minute = 4
[lease]
object = "http://%[4]s/%[5]s/lease"
keys_file = "lease.keys"
[[weeks.technician]]
name = "Inge"
hours = [8, 8, 8, 8, 8, 0, 0]
`, s, mailServer, m.name, m.wire.ln.Addr(), bucket) + places()
		for name, text := range map[string]string{"bellbuoy.toml": settings, "lease.keys": keys} {
			if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o600); err != nil {
				return err
			}
		}
		fmt.Fprintf(&dbs, `  - path: %s/bellbuoy.db
    replica:
      type: s3
      endpoint: http://%s
      region: us-east-1
      bucket: %s
      path: %s%s
      force-path-style: true
      access-key-id: drill
      secret-access-key: no-secret
`, dir, m.wire.ln.Addr(), bucket, s, m.path)
	}
	return os.WriteFile(m.litestream(), []byte("dbs:\n"+dbs.String()), 0o600)
}

func (m *machine) litestream() string         { return filepath.Join(m.dir, "litestream.yml") }
func (m *machine) shop(s, name string) string { return filepath.Join(m.dir, "shops", s, name) }

// run runs a command of the program for one shop.
func (m *machine) run(ctx context.Context, shop, in string, args ...string) error {
	c := exec.CommandContext(ctx, m.tools.bellbuoy, append(args, "--config", m.shop(shop, "bellbuoy.toml"))...)
	c.Stdin = strings.NewReader(in)
	if out, err := c.CombinedOutput(); err != nil {
		return fmt.Errorf("%s: bellbuoy %v: %w\n%s", m.name, args, err, out)
	}
	return nil
}

// fill puts the invented shop into each of a machine's.
func (m *machine) fill(ctx context.Context) error {
	today := filepath.Join(m.dir, "files")
	if err := os.MkdirAll(today, 0o700); err != nil {
		return err
	}
	for _, name := range []string{"customers.csv", "boats.csv", "components.csv", "history.csv", "readings.csv"} {
		text, err := os.ReadFile(filepath.Join(files, name))
		if err != nil {
			return err
		}
		if err := os.WriteFile(filepath.Join(today, name), []byte(move(string(text))), 0o600); err != nil {
			return err
		}
	}
	for _, s := range shops {
		if err := m.run(ctx, s, "", "import", today); err != nil {
			return err
		}
		if err := m.run(ctx, s, password+"\n", "staff", "add", "Inge", "--role", "desk"); err != nil {
			return err
		}
		if err := m.run(ctx, s, "", "mail", "on"); err != nil {
			return err
		}
	}
	return nil
}

// environment is this process's without what it says about storage elsewhere.
func environment() []string {
	return slices.DeleteFunc(os.Environ(), func(v string) bool { return strings.HasPrefix(v, "AWS_") })
}

// start starts a program of the machine in the background.
func (m *machine) start(program string, args ...string) (*exec.Cmd, error) {
	c := exec.Command(program, args...)
	c.Stdout, c.Stderr, c.Env = m.log, m.log, environment()
	c.SysProcAttr = &syscall.SysProcAttr{Pdeathsig: syscall.SIGKILL} // a drill that breaks off leaves nothing behind
	return c, c.Start()
}

func (m *machine) serve() (err error) {
	m.daemon, err = m.start(m.tools.bellbuoy, "serve", "--shops", filepath.Join(m.dir, "shops"), "--listen", m.listen)
	return err
}

func (m *machine) copyOn() (err error) {
	m.replicate, err = m.start(m.tools.litestream, "replicate", "-config", m.litestream())
	return err
}

// die is kill -9 of all its processes, and its disk is gone.
func (m *machine) die() error {
	m.kill()
	return os.RemoveAll(filepath.Join(m.dir, "shops"))
}

func (m *machine) kill() {
	for _, c := range []*exec.Cmd{m.daemon, m.replicate} {
		if c != nil && c.ProcessState == nil {
			c.Process.Kill()
			c.Wait()
		}
	}
}

// takeOver fetches every shop from the replica of another machine and puts it in place.
func (m *machine) takeOver(ctx context.Context, from *machine) error {
	text, err := os.ReadFile(m.litestream())
	if err != nil {
		return err
	}
	text = bytes.ReplaceAll(text, []byte(m.path+"\n      force"), []byte(from.path+"\n      force"))
	source := filepath.Join(m.dir, "from.yml")
	if err := os.WriteFile(source, text, 0o600); err != nil {
		return err
	}
	errs := make([]error, len(shops))
	var all sync.WaitGroup
	for i, s := range shops {
		all.Go(func() {
			c := exec.CommandContext(ctx, m.tools.litestream, "restore", "-config", source, "-o", m.shop(s, "replica.db"), m.shop(s, "bellbuoy.db"))
			c.Env = environment()
			if out, err := c.CombinedOutput(); err != nil {
				errs[i] = fmt.Errorf("litestream restore %s: %w\n%s", s, err, out)
				return
			}
			if errs[i] = m.run(ctx, s, "", "restore", "--take-over", m.shop(s, "replica.db")); errs[i] == nil {
				// As if the hour had turned: all customers are asked for again.
				errs[i] = change(m.shop(s, "bellbuoy.db"), "DELETE FROM ticks WHERE job = 'remind'")
			}
		})
	}
	all.Wait()
	for _, err := range errs {
		if err != nil {
			return err
		}
	}
	return nil
}

package main

import (
	"fmt"
	"net"
	"os"
	"os/exec"
	"os/user"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"bellbuoy/schedule/testkit"
)

// postfix is a real Postfix of its own: own settings, own queue, one port on
// loopback. It passes nothing on; all mail to the domains of the invented
// shop's people ends in one maildir.
type postfix struct {
	address string
	dir     string
}

// startPostfix starts it, and stops it at the end of the test. More lines of
// main.cf come last and so win.
func startPostfix(t *testing.T, more ...string) *postfix {
	t.Helper()
	_, missing := exec.LookPath("postfix")
	owner, unknown := user.Lookup("postfix")
	testkit.Needs(t, missing == nil && unknown == nil, "postfix")
	testkit.Needs(t, os.Geteuid() == 0, "the right to start postfix (root)")

	p := &postfix{address: freeAddress(t), dir: publicFolder(t)}
	for _, d := range []string{"config", "queue", "data", "mail"} {
		if err := os.Mkdir(filepath.Join(p.dir, d), 0o755); err != nil {
			t.Fatal(err)
		}
	}
	p.give(t, "data", owner.Uid)
	p.give(t, "mail", nobody)
	p.write(t, "main.cf", p.mainCF()+strings.Join(append(more, ""), "\n"))
	p.write(t, "master.cf", p.masterCF())
	if out, err := p.run("start"); err != nil {
		t.Fatalf("postfix start: %v\n%s\n%s", err, out, p.log())
	}
	t.Cleanup(func() {
		if out, err := p.run("stop"); err != nil {
			t.Errorf("postfix stop: %v\n%s", err, out)
		}
	})
	return p
}

// publicFolder is a temporary folder in which Postfix's users may walk.
func publicFolder(t *testing.T) string {
	t.Helper()
	dir, err := os.MkdirTemp("", "bellbuoy-postfix-")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { os.RemoveAll(dir) })
	if err := os.Chmod(dir, 0o755); err != nil {
		t.Fatal(err)
	}
	return dir
}

// freeAddress is an address on loopback that nothing listens on.
func freeAddress(t *testing.T) string {
	t.Helper()
	ln, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer ln.Close()
	return ln.Addr().String()
}

// nobody is the user to whom the delivered mail belongs.
const nobody = "65534"

func (p *postfix) give(t *testing.T, folder, uid string) {
	t.Helper()
	id, err := strconv.Atoi(uid)
	if err == nil {
		err = os.Chown(filepath.Join(p.dir, folder), id, -1)
	}
	if err != nil {
		t.Fatal(err)
	}
}

func (p *postfix) write(t *testing.T, name, text string) {
	t.Helper()
	if err := os.WriteFile(filepath.Join(p.dir, "config", name), []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
}

func (p *postfix) mainCF() string {
	return strings.ReplaceAll(`compatibility_level = 3.6
queue_directory = DIR/queue
data_directory = DIR/data
maillog_file = DIR/log
maillog_file_prefixes = DIR
mail_owner = postfix
setgid_group = postdrop
inet_interfaces = 127.0.0.1
inet_protocols = ipv4
myhostname = mx.lindrake.example
mydestination =
mynetworks = 127.0.0.1/32
smtpd_recipient_restrictions = permit_mynetworks, reject
smtpd_tls_security_level = none
virtual_mailbox_domains = example.com, example.org, example.net
virtual_mailbox_base = DIR/mail
virtual_mailbox_maps = static:inbox/
virtual_uid_maps = static:`+nobody+`
virtual_gid_maps = static:`+nobody+`
default_transport = error:nothing leaves this machine
relay_transport = error:nothing leaves this machine
alias_maps =
local_recipient_maps =
smtputf8_enable = yes
`, "DIR", p.dir)
}

func (p *postfix) masterCF() string {
	return fmt.Sprintf(`%s inet n - n - - smtpd
cleanup unix n - n - 0 cleanup
qmgr unix n - n 300 1 qmgr
rewrite unix - - n - - trivial-rewrite
bounce unix - - n - 0 bounce
defer unix - - n - 0 bounce
trace unix - - n - 0 bounce
verify unix - - n - 1 verify
flush unix n - n 1000? 0 flush
proxymap unix - - n - - proxymap
error unix - - n - - error
retry unix - - n - - error
virtual unix - n n - - virtual
anvil unix - - n - 1 anvil
pickup unix n - n 60 1 pickup
showq unix n - n - - showq
postlog unix-dgram n - n - 1 postlogd
`, p.address)
}

func (p *postfix) run(verb string) ([]byte, error) {
	return exec.Command("postfix", "-c", filepath.Join(p.dir, "config"), verb).CombinedOutput()
}

// log is what Postfix says about itself.
func (p *postfix) log() string {
	b, err := os.ReadFile(filepath.Join(p.dir, "log"))
	if err != nil {
		return err.Error()
	}
	return string(b)
}

// delivered waits for so many mails in the maildir and returns their files. A
// file in new/ is a whole mail: Postfix moves it there last.
func (p *postfix) delivered(t *testing.T, n int) []string {
	t.Helper()
	return p.box(t, "inbox", n)
}

// box does so for one of several maildirs.
func (p *postfix) box(t *testing.T, name string, n int) []string {
	t.Helper()
	tick := time.NewTicker(20 * time.Millisecond)
	defer tick.Stop()
	for end := time.Now().Add(patience); time.Now().Before(end); <-tick.C {
		files, err := filepath.Glob(filepath.Join(p.dir, "mail", name, "new", "*"))
		if err != nil {
			t.Fatal(err)
		}
		if len(files) >= n {
			return files
		}
	}
	t.Fatalf("fewer than %d mails delivered\n%s", n, p.log())
	return nil
}

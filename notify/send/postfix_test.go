package send_test

import (
	"bytes"
	"context"
	"fmt"
	"net"
	"os"
	"os/exec"
	"os/user"
	"path/filepath"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/emersion/go-msgauth/dkim"

	"bellbuoy/notify/bounce"
	"bellbuoy/notify/internal/fixture"
	"bellbuoy/notify/message"
	"bellbuoy/notify/send"
	"bellbuoy/schedule"
	"bellbuoy/schedule/testkit"
)

// postfix is a real mail server in a folder of its own.
type postfix struct {
	dir, address string
}

// startPostfix starts one, or skips where there is none or it may not be.
func startPostfix(t *testing.T) *postfix {
	t.Helper()
	const master = "/usr/lib/postfix/sbin/master"
	_, missing := os.Stat(master)
	owner, unknown := user.Lookup("postfix")
	testkit.Needs(t, missing == nil && unknown == nil && os.Getuid() == 0, "postfix, or the right to start it,")
	ln, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	address := ln.Addr().String()
	ln.Close()
	p := &postfix{dir: postfixFolder(t, owner, address), address: address}
	check := exec.Command("/usr/sbin/postfix", "-c", p.dir, "check")
	if out, err := check.CombinedOutput(); err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	cmd := exec.Command(master, "-c", p.dir, "-d")
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		cmd.Process.Signal(syscall.SIGTERM)
		cmd.Wait()
		if t.Failed() {
			log, _ := os.ReadFile(filepath.Join(p.dir, "log"))
			t.Logf("%s", log)
		}
	})
	p.until(t, "it answers", func() bool {
		c, err := net.Dial("tcp", address)
		if err == nil {
			c.Close()
		}
		return err == nil
	})
	return p
}

// postfixFolder fills a folder that postfix's own users may enter.
func postfixFolder(t *testing.T, owner *user.User, address string) string {
	t.Helper()
	dir, err := os.MkdirTemp("", "pf")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { os.RemoveAll(dir) })
	uid, err := strconv.Atoi(owner.Uid)
	if err != nil {
		t.Fatal(err)
	}
	_, port, _ := net.SplitHostPort(address)
	fill := strings.NewReplacer("DIR", dir, "PORT", port)
	for _, name := range []string{"main.cf", "master.cf", "boxes"} {
		text, err := os.ReadFile(filepath.Join("testdata/postfix", name))
		if err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(filepath.Join(dir, name), []byte(fill.Replace(string(text))), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	if err := os.Chmod(dir, 0o755); err != nil {
		t.Fatal(err)
	}
	for name, who := range map[string]int{"spool": 0, "data": uid, "mail": 65534} {
		path := filepath.Join(dir, name)
		if err := os.Mkdir(path, 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.Chown(path, who, -1); err != nil {
			t.Fatal(err)
		}
	}
	return dir
}

// until asks again and again, for ten seconds.
func (p *postfix) until(t *testing.T, what string, done func() bool) {
	t.Helper()
	ctx, cancel := context.WithTimeout(t.Context(), 10*time.Second)
	defer cancel()
	tick := time.NewTicker(20 * time.Millisecond)
	defer tick.Stop()
	for !done() {
		select {
		case <-tick.C:
		case <-ctx.Done():
			t.Fatalf("postfix: waited in vain until %s", what)
		}
	}
}

// box returns the mails in a mailbox once there are n.
func (p *postfix) box(t *testing.T, name string, n int) [][]byte {
	t.Helper()
	var files []string
	p.until(t, fmt.Sprintf("%d mails are in %s", n, name), func() bool {
		files, _ = filepath.Glob(filepath.Join(p.dir, "mail", name, "new", "*")) // the pattern is sound
		return len(files) >= n
	})
	var all [][]byte
	for _, f := range files {
		b, err := os.ReadFile(f)
		if err != nil {
			t.Fatal(err)
		}
		all = append(all, b)
	}
	return all
}

// TestThroughPostfix sends one letter to a customer and one to nobody through a
// real mail server: the first arrives with its signature whole, the second
// comes back to its own return address as a report that we can read.
func TestThroughPostfix(t *testing.T) {
	p := startPostfix(t)
	pemKey, record := fixture.DKIMKey(t, "rsa")
	key, err := message.NewDKIM("kettlecove.example", "s1", pemKey)
	if err != nil {
		t.Fatal(err)
	}
	verp, err := bounce.NewVERP("kettlecove.example", []byte("0123456789abcdef"))
	if err != nil {
		t.Fatal(err)
	}
	box := newBox(2)
	n := fixture.Cases(t)["several"]
	for i, to := range []string{"asa@mail.example", "nobody@mail.example"} {
		n.Customer.Email = to
		l, err := fixture.Renderer(t, key).Message(&n, fixture.Links)
		if err != nil {
			t.Fatal(err)
		}
		box.letters[i].Raw, box.letters[i].To, box.letters[i].MessageID = l.Raw, l.To, l.MessageID
	}
	snd, err := send.New(box, send.Config{
		Server: p.address, Security: send.NoTLS, Hello: "shop.kettlecove.example",
		ReturnPath: func(l *schedule.Message) string { return verp.Address(l.ID) },
	})
	if err != nil {
		t.Fatal(err)
	}
	if res, err := snd.Drain(t.Context(), at(senderNow), 10); err != nil || res.Sent != 2 {
		t.Fatalf("%+v, %v", res, err)
	}
	checkDelivered(t, p.box(t, "asa", 1)[0], box.letters[0].Raw, verp.Address(1), record)

	b, err := bounce.Parse(p.box(t, "bounces", 1)[0])
	if err != nil || b.Kind != bounce.Dead || b.Recipient != "nobody@mail.example" || b.Status != "5.1.1" || b.MessageID != box.letters[1].MessageID {
		t.Errorf("the bounce is read as %+v, %v", b, err)
	}
	found := false
	for _, to := range b.To {
		if id, ok := verp.Message(to); ok && id == 2 {
			found = true
		}
	}
	if !found {
		t.Errorf("letter 2 is not among %q", b.To)
	}
}

// checkDelivered compares what arrived with what was sent.
func checkDelivered(t *testing.T, got, sent []byte, from, record string) {
	t.Helper()
	if !bytes.Contains(got, []byte("Return-Path: <"+from+">")) {
		t.Errorf("the return path is not %s:\n%.300s", from, got)
	}
	unix := bytes.ReplaceAll(sent, []byte("\r\n"), []byte("\n"))
	if !bytes.HasSuffix(bytes.TrimRight(got, "\n"), bytes.TrimRight(unix, "\n")) {
		t.Error("the letter arrived changed")
	}
	vs, err := dkim.VerifyWithOptions(bytes.NewReader(bytes.ReplaceAll(got, []byte("\n"), []byte("\r\n"))), &dkim.VerifyOptions{
		LookupTXT: func(string) ([]string, error) { return []string{record}, nil },
	})
	if err != nil || len(vs) != 1 || vs[0].Err != nil {
		t.Errorf("the signature: %v, %v", vs, err)
	}
}

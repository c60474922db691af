package send_test

import (
	"context"
	"encoding/base64"
	"errors"
	"net"
	"strings"
	"testing"
	"time"

	"bellbuoy/notify/bounce"
	"bellbuoy/notify/send"
	"bellbuoy/schedule"
)

// TestSenderOutcomes has one letter meet every kind of server. After each, what
// the outbox says is compared with what is true.
func TestSenderOutcomes(t *testing.T) {
	cases := []struct {
		name     string
		rules    script
		state    schedule.MessageState
		code     int
		enhanced string
		arrived  int
		suppress bool
		pause    bool
	}{
		{"accepted", script{}, schedule.MessageSent, 250, "2.0.0", 1, false, false},
		{"accepted without an enhanced code", script{".": {"250 fine"}}, schedule.MessageSent, 250, "", 1, false, false},
		{"accepted in a code of its own", script{".": {"251 forwarded"}}, schedule.MessageSent, 250, "", 1, false, false},
		{"accepted, then the line drops at QUIT", script{"QUIT": {"drop"}}, schedule.MessageSent, 250, "2.0.0", 1, false, false},
		{"accepted, then the line drops at once", script{".": {"250 2.0.0 ok then drop"}}, schedule.MessageSent, 250, "2.0.0", 1, false, false},
		{"dot sent, no answer, line drops", script{".": {"drop"}}, schedule.MessageUncertain, 0, "", 0, false, false},
		{"dot sent, answer too late", script{".": {"stall"}}, schedule.MessageUncertain, 0, "", 0, false, false},
		{"dot sent, answer is noise", script{".": {"hello?"}}, schedule.MessageUncertain, 0, "", 0, false, false},
		{"refused after the dot for now", script{".": {"451 4.3.0 later"}}, schedule.MessageDeferred, 451, "4.3.0", 0, false, false},
		{"421 after the dot", script{".": {"421 4.3.2 closing then drop"}}, schedule.MessageDeferred, 421, "4.3.2", 0, false, false},
		{"refused after the dot as spam", script{".": {"550 5.7.1 looks like spam"}}, schedule.MessageRefused, 550, "5.7.1", 0, false, false},
		{"refused after the dot for good", script{".": {"554 5.6.0 cannot read this"}}, schedule.MessageRefused, 554, "5.6.0", 0, false, false},
		{"no such user", script{"RCPT": {"550 5.1.1 no such user"}}, schedule.MessageRefused, 550, "5.1.1", 0, true, false},
		{"no such user in words only", script{"RCPT": {"550 User unknown"}}, schedule.MessageRefused, 550, "", 0, true, false},
		{"mailbox disabled", script{"RCPT": {"550 5.2.1 disabled"}}, schedule.MessageRefused, 550, "5.2.1", 0, true, false},
		{"mailbox full for good", script{"RCPT": {"552 5.2.2 over quota"}}, schedule.MessageDeferred, 552, "5.2.2", 0, false, false},
		{"mailbox full for now", script{"RCPT": {"452 4.2.2 full"}}, schedule.MessageDeferred, 452, "4.2.2", 0, false, false},
		{"greylisted", script{"RCPT": {"450 4.7.1 greylisted, come back"}}, schedule.MessageDeferred, 450, "4.7.1", 0, false, false},
		{"policy at RCPT", script{"RCPT": {"550 5.7.1 blocked by our list"}}, schedule.MessageRefused, 550, "5.7.1", 0, false, false},
		{"no signature", script{"RCPT": {"550 5.7.26 unauthenticated mail"}}, schedule.MessageDeferred, 550, "5.7.26", 0, false, true},
		{"blocklist in words only", script{"RCPT": {"554 Service unavailable; client host blocked using a DNSBL"}}, schedule.MessageRefused, 554, "", 0, false, false},
		{"550 and no reason", script{"RCPT": {"550 no"}}, schedule.MessageRefused, 550, "", 0, false, false},
		{"421 and close at RCPT", script{"RCPT": {"421 4.3.2 going down then drop"}}, schedule.MessageDeferred, 421, "4.3.2", 0, false, false},
		{"line drops at RCPT", script{"RCPT": {"drop"}}, schedule.MessageDeferred, 0, "", 0, false, false},
		{"no answer at RCPT", script{"RCPT": {"stall"}}, schedule.MessageDeferred, 0, "", 0, false, false},
		{"our address is refused", script{"MAIL": {"550 5.1.8 bad sender"}}, schedule.MessageDeferred, 550, "5.1.8", 0, false, true},
		{"our address is unknown", script{"MAIL": {"550 5.1.1 who are you"}}, schedule.MessageDeferred, 550, "5.1.1", 0, false, true},
		{"too big", script{"MAIL": {"552 5.3.4 too big"}}, schedule.MessageRefused, 552, "5.3.4", 0, false, false},
		{"sign in first", script{"MAIL": {"530 5.7.0 authentication required"}}, schedule.MessageDeferred, 530, "5.7.0", 0, false, true},
		{"451 at DATA", script{"DATA": {"451 4.3.0 no room"}}, schedule.MessageDeferred, 451, "4.3.0", 0, false, false},
		{"554 at DATA", script{"DATA": {"554 5.5.1 no valid recipients"}}, schedule.MessageRefused, 554, "5.5.1", 0, false, false},
		{"line drops at DATA", script{"DATA": {"drop"}}, schedule.MessageDeferred, 0, "", 0, false, false},
		{"greeting 421", script{"conn": {"421 4.3.2 busy"}}, schedule.MessageQueued, 421, "4.3.2", 0, false, false},
		{"greeting 554", script{"conn": {"554 5.7.1 your network is blocked"}}, schedule.MessageQueued, 554, "5.7.1", 0, false, true},
		{"no greeting", script{"conn": {"stall"}}, schedule.MessageQueued, 0, "", 0, false, false},
		{"EHLO 421", script{"EHLO": {"421 4.3.2 busy"}}, schedule.MessageQueued, 421, "4.3.2", 0, false, false},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			srv := serveScript(t, c.rules)
			box := &watchedBox{fakeBox: newBox(1)}
			if _, err := newSender(t, box, srv, nil).Drain(t.Context(), at(senderNow), 10); err != nil {
				t.Fatal(err)
			}
			l, o := box.letters[0], box.outcome
			if l.State != c.state || l.Code != c.code || l.Enhanced != c.enhanced {
				t.Errorf("the letter is %s %d %q %q, want %s %d %q", l.State, l.Code, l.Enhanced, l.Answer, c.state, c.code, c.enhanced)
			}
			if len(srv.took()) != c.arrived {
				t.Errorf("%d letters arrived, want %d", len(srv.took()), c.arrived)
			}
			if o.Suppress != c.suppress || o.PauseQueue != c.pause {
				t.Errorf("suppress %t pause %t, want %t %t", o.Suppress, o.PauseQueue, c.suppress, c.pause)
			}
			if wait := o.NextAt.Sub(senderNow); (o.State == schedule.MessageDeferred || o.State == schedule.MessageQueued) && wait != 10*time.Minute {
				t.Errorf("tried again after %s, want 10m", wait)
			}
		})
	}
}

// watchedBox keeps the last outcome.
type watchedBox struct {
	*fakeBox
	outcome schedule.Outcome
}

func (b *watchedBox) RecordOutcome(ctx context.Context, id int64, token string, o schedule.Outcome, now time.Time) error {
	b.outcome = o
	return b.fakeBox.RecordOutcome(ctx, id, token, o, now)
}

func TestLettersArriveWhole(t *testing.T) {
	srv := serveScript(t, script{})
	box := newBox(3)
	res, err := newSender(t, box, srv, nil).Drain(t.Context(), at(senderNow), 10)
	if err != nil || res.Sent != 3 || res.Stopped != "" {
		t.Fatalf("%+v, %v", res, err)
	}
	for i, got := range srv.took() {
		if got != string(box.letters[i].Raw) {
			t.Errorf("letter %d arrived changed", i+1)
		}
	}
	if n := strings.Count(srv.commands(), "EHLO"); n != 1 {
		t.Errorf("%d connections for three letters, want one", n)
	}
	if !strings.HasSuffix(srv.commands(), "QUIT") {
		t.Error("no farewell")
	}
}

// TestOneBadLetterDoesNotHoldUpTheRest: every refusal leaves the connection
// usable.
func TestOneBadLetterDoesNotHoldUpTheRest(t *testing.T) {
	srv := serveScript(t, script{
		"RCPT": {"250 ok", "550 5.1.1 no", "250 ok"},
		"DATA": {"451 4.3.0 no room", "354 go on"},
		".":    {"554 5.6.0 no", "250 2.0.0 ok"},
	})
	box := newBox(5)
	res, err := newSender(t, box, srv, nil).Drain(t.Context(), at(senderNow), 10)
	if err != nil || res.Sent != 2 || res.Deferred != 1 || res.Refused != 2 || len(srv.took()) != 2 {
		t.Fatalf("%+v, %v, %d arrived; %s", res, err, len(srv.took()), srv.commands())
	}
}

func TestConnectionsAreRenewed(t *testing.T) {
	t.Run("after so many letters", func(t *testing.T) {
		srv := serveScript(t, script{})
		res, err := newSender(t, newBox(5), srv, func(c *send.Config) { c.PerConnection = 2 }).Drain(t.Context(), at(senderNow), 10)
		if err != nil || res.Sent != 5 || strings.Count(srv.commands(), "EHLO") != 3 {
			t.Errorf("%+v, %v, %d connections, want 3", res, err, strings.Count(srv.commands(), "EHLO"))
		}
	})
	for _, bye := range []string{"drop", "421 4.7.0 enough for one connection then drop"} {
		t.Run("when the server had enough: "+bye, func(t *testing.T) {
			srv := serveScript(t, script{"MAIL": {"250 ok", bye, "250 ok"}})
			res, err := newSender(t, newBox(3), srv, nil).Drain(t.Context(), at(senderNow), 10)
			if err != nil || res.Sent != 3 || len(srv.took()) != 3 {
				t.Errorf("%+v, %v", res, err)
			}
		})
	}
}

func TestDrainStopsWhereItIsHopeless(t *testing.T) {
	for name, rules := range map[string]script{
		"421 for everyone": {"MAIL": {"421 4.3.2 down then drop"}},
		"signature":        {"RCPT": {"550 5.7.26 no signature"}},
		"greeting":         {"conn": {"drop"}},
	} {
		t.Run(name, func(t *testing.T) {
			box := newBox(3)
			res, err := newSender(t, box, serveScript(t, rules), nil).Drain(t.Context(), at(senderNow), 10)
			if err != nil || res.Stopped == "" || res.Deferred != 1 || box.letters[1].State != schedule.MessageQueued {
				t.Errorf("%+v, %v; the second letter is %s", res, err, box.letters[1].State)
			}
		})
	}
	t.Run("nobody there", func(t *testing.T) {
		box := newBox(2)
		refuse := func(c *send.Config) {
			c.Dial = func(context.Context, string, string) (net.Conn, error) { return nil, errors.New("connection refused") }
		}
		res, err := newSender(t, box, serveScript(t, nil), refuse).Drain(t.Context(), at(senderNow), 10)
		if err != nil || res.Deferred != 1 || !strings.Contains(res.Stopped, "connection refused") {
			t.Errorf("%+v, %v", res, err)
		}
	})
}

// TestCrashes kills the process at every point, lets the lease run out, starts
// again, and asks: is every letter accounted for, and was none sent twice unless
// the first copy was never acknowledged?
func TestCrashes(t *testing.T) {
	for _, c := range []struct {
		crash   string
		state   schedule.MessageState // after the lease
		arrived int                   // by then
		total   int                   // when the new process has drained
	}{
		{"claimed", schedule.MessageQueued, 0, 1},
		{"before mark", schedule.MessageQueued, 0, 1},
		{"after mark", schedule.MessageUncertain, 0, 0},
		{"before record", schedule.MessageUncertain, 1, 1},
	} {
		t.Run(c.crash, func(t *testing.T) {
			srv := serveScript(t, script{})
			box := newBox(1)
			box.crash = c.crash
			if _, err := newSender(t, box, srv, nil).Drain(t.Context(), at(senderNow), 10); err == nil {
				t.Fatal("the dead process reports success")
			}
			box.crash, box.dead = "", false
			later := senderNow.Add(time.Hour)
			box.recover(later)
			if got := box.letters[0].State; got != c.state || len(srv.took()) != c.arrived {
				t.Errorf("after the crash: %s, %d arrived; want %s, %d", got, len(srv.took()), c.state, c.arrived)
			}
			if _, err := newSender(t, box, srv, nil).Drain(t.Context(), at(later), 10); err != nil {
				t.Fatal(err)
			}
			if len(srv.took()) != c.total {
				t.Errorf("in the end %d arrived, want %d", len(srv.took()), c.total)
			}
		})
	}
}

// TestLostLeaseSendsNothing: whoever lost the lease must not send the dot.
func TestLostLeaseSendsNothing(t *testing.T) {
	srv := serveScript(t, script{})
	box := newBox(1)
	calls := 0
	slow := func() time.Time { // the clock jumps a day after the claim
		calls++
		if calls == 1 {
			return senderNow
		}
		return senderNow.Add(24 * time.Hour)
	}
	res, err := newSender(t, box, srv, nil).Drain(t.Context(), slow, 1)
	if err != nil || res != (send.Result{}) || len(srv.took()) != 0 {
		t.Errorf("%+v, %v, %d arrived", res, err, len(srv.took()))
	}
}

// TestShutdownBeforeTheDot stops at once; after the dot the answer is awaited
// and recorded.
func TestShutdown(t *testing.T) {
	t.Run("before the dot", func(t *testing.T) {
		ctx, cancel := context.WithCancel(t.Context())
		srv := serveScript(t, script{"RCPT": {"stall"}})
		box := newBox(1)
		snd := newSender(t, box, srv, func(c *send.Config) { c.Command = time.Minute })
		time.AfterFunc(50*time.Millisecond, cancel)
		if _, err := snd.Drain(ctx, at(senderNow), 10); err != nil {
			t.Fatal(err)
		}
		if got := box.letters[0].State; got != schedule.MessageDeferred {
			t.Errorf("the letter is %s, want deferred", got)
		}
	})
	t.Run("after the dot", func(t *testing.T) {
		ctx, cancel := context.WithCancel(t.Context())
		srv := serveScript(t, script{})
		box := &cancelBox{fakeBox: newBox(2), cancel: cancel}
		res, err := newSender(t, box, srv, nil).Drain(ctx, at(senderNow), 10)
		if err != nil || res.Sent != 1 || res.Stopped != "shutting down" {
			t.Errorf("%+v, %v", res, err)
		}
		if box.letters[0].State != schedule.MessageSent || box.letters[1].State != schedule.MessageQueued {
			t.Errorf("the letters are %s and %s", box.letters[0].State, box.letters[1].State)
		}
	})
}

// cancelBox asks for a shutdown at the very moment of the dot.
type cancelBox struct {
	*fakeBox
	cancel context.CancelFunc
}

func (b *cancelBox) MarkDot(ctx context.Context, id int64, token string, now time.Time) error {
	b.cancel()
	return b.fakeBox.MarkDot(ctx, id, token, now)
}

func TestBackOff(t *testing.T) {
	srv := serveScript(t, script{"RCPT": {"450 4.2.0 later"}})
	box := newBox(1)
	box.letters[0].NotAfter = senderNow.Add(10 * 24 * time.Hour)
	now := senderNow
	var waits []string
	for range 40 {
		jitter := float64(len(waits)%2) * 0.999 // shortest, longest, shortest
		snd := newSender(t, box, srv, func(c *send.Config) { c.Jitter = func() float64 { return jitter } })
		if _, err := snd.Drain(t.Context(), at(now), 1); err != nil {
			t.Fatal(err)
		}
		if box.letters[0].State != schedule.MessageDeferred {
			break
		}
		waits = append(waits, box.letters[0].NextAt.Sub(now).Round(time.Minute).String())
		now = box.letters[0].NextAt
	}
	want := "8m0s 36m0s 48m0s 2h24m0s 3h12m0s 7h12m0s 4h48m0s 7h12m0s"
	if got := strings.Join(waits[:8], " "); got != want {
		t.Errorf("waits %s, want %s", got, want)
	}
	if age := now.Sub(senderNow); box.letters[0].State != schedule.MessageExpired || age < 3*24*time.Hour || age > 4*24*time.Hour {
		t.Errorf("after %s the letter is %s, want expired within four days", age, box.letters[0].State)
	}
}

func TestLastUsefulDay(t *testing.T) {
	srv := serveScript(t, script{"RCPT": {"450 4.2.0 later"}})
	box := newBox(2)
	box.letters[0].NotAfter = senderNow.Add(-time.Minute)
	box.letters[1].NotAfter = senderNow.Add(5 * time.Minute)
	res, err := newSender(t, box, srv, nil).Drain(t.Context(), at(senderNow), 10)
	if err != nil || res.Expired != 2 || strings.Count(srv.commands(), "RCPT") != 1 {
		t.Errorf("%+v, %v; %s", res, err, srv.commands())
	}
}

func TestSecurityAndSignIn(t *testing.T) {
	server, client := scriptTLS(t)
	secret := func(context.Context) (string, error) { return "s3cret", nil }
	xoauth := base64.StdEncoding.EncodeToString([]byte("user=me\x01auth=Bearer s3cret\x01\x01"))
	plain := base64.StdEncoding.EncodeToString([]byte("\x00me\x00s3cret"))
	cases := []struct {
		name  string
		tls   bool
		with  func(*send.Config, *scripted)
		state schedule.MessageState
		heard string
		pause bool
	}{
		{"starttls", true, func(c *send.Config, _ *scripted) { c.Security, c.TLS = send.StartTLS, client }, schedule.MessageSent, "STARTTLS|EHLO shop.example", false},
		{"tls", true, func(c *send.Config, s *scripted) { c.Security, c.TLS, s.from = send.TLS, client, true }, schedule.MessageSent, "EHLO shop.example", false},
		{"starttls is not offered", false, func(c *send.Config, _ *scripted) { c.Security, c.TLS = send.StartTLS, client }, schedule.MessageQueued, "EHLO", false},
		{"nobody vouches for the certificate", true, func(c *send.Config, _ *scripted) { c.Security = send.StartTLS }, schedule.MessageQueued, "STARTTLS", false},
		{"plain", true, func(c *send.Config, _ *scripted) {
			c.Security, c.TLS, c.Auth, c.User, c.Secret = send.StartTLS, client, "plain", "me", secret
		}, schedule.MessageSent, "AUTH PLAIN " + plain, false},
		{"login", true, func(c *send.Config, s *scripted) {
			c.Security, c.TLS, c.Auth, c.User, c.Secret = send.StartTLS, client, "login", "me", secret
			// The server asks for the user's name and then for the password.
			s.rules = script{"AUTH": {"334 VXNlcm5hbWU6"}, "BWU=": {"334 UGFzc3dvcmQ6"}, "CZNJCMV0": {"235 2.7.0 in"}}
		}, schedule.MessageSent, "AUTH LOGIN|bWU=|czNjcmV0", false},
		{"xoauth2", true, func(c *send.Config, _ *scripted) {
			c.Security, c.TLS, c.Auth, c.User, c.Secret = send.StartTLS, client, "xoauth2", "me", secret
		}, schedule.MessageSent, "AUTH XOAUTH2 " + xoauth, false},
		{"wrong password", true, func(c *send.Config, s *scripted) {
			c.Security, c.TLS, c.Auth, c.User, c.Secret = send.StartTLS, client, "plain", "me", secret
			s.rules = script{"AUTH": {"535 5.7.8 bad credentials"}}
		}, schedule.MessageQueued, "AUTH PLAIN", true},
		{"sign-in is down", true, func(c *send.Config, s *scripted) {
			c.Security, c.TLS, c.Auth, c.User, c.Secret = send.StartTLS, client, "plain", "me", secret
			s.rules = script{"AUTH": {"454 4.7.0 later"}}
		}, schedule.MessageQueued, "AUTH PLAIN", false},
		{"no token to be had", true, func(c *send.Config, s *scripted) {
			c.Security, c.TLS, c.Auth, c.User = send.StartTLS, client, "xoauth2", "me"
			c.Secret = func(context.Context) (string, error) { return "", errors.New("token expired") }
		}, schedule.MessageQueued, "STARTTLS", true},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			srv := listenScript(t, script{})
			srv.auth = true
			if c.tls {
				srv.tls = server
			}
			box := newBox(1)
			snd := newSender(t, box, srv, func(cfg *send.Config) { c.with(cfg, srv) })
			srv.start()
			if _, err := snd.Drain(t.Context(), at(senderNow), 1); err != nil {
				t.Fatal(err)
			}
			if got := box.letters[0]; got.State != c.state || box.paused != c.pause {
				t.Errorf("%s (%s), paused %t; want %s, %t", got.State, got.Answer, box.paused, c.state, c.pause)
			}
			if !strings.Contains(srv.commands(), c.heard) {
				t.Errorf("the server heard %q, want %q in it", srv.commands(), c.heard)
			}
			if c.state != schedule.MessageSent && strings.Contains(srv.commands(), "MAIL FROM") {
				t.Error("the letter was begun all the same")
			}
		})
	}
}

func TestSenderRefusesUnsafeSettings(t *testing.T) {
	secret := func(context.Context) (string, error) { return "x", nil }
	for name, cfg := range map[string]send.Config{
		"no port":               {Server: "smtp.example.com", Security: send.TLS},
		"no security":           {Server: "smtp.example.com:25"},
		"password in the clear": {Server: "smtp.example.com:25", Security: send.NoTLS, Auth: "plain", Secret: secret},
		"no password":           {Server: "smtp.example.com:25", Security: send.TLS, Auth: "plain"},
		"unknown sign-in":       {Server: "smtp.example.com:25", Security: send.TLS, Auth: "magic", Secret: secret},
	} {
		if _, err := send.New(newBox(0), cfg); err == nil {
			t.Errorf("%s was taken", name)
		}
	}
}

func TestReturnPathPerLetter(t *testing.T) {
	verp, err := bounce.NewVERP("bounce.kettlecove.example", []byte("0123456789abcdef"))
	if err != nil {
		t.Fatal(err)
	}
	srv := serveScript(t, script{})
	snd := newSender(t, newBox(1), srv, func(c *send.Config) {
		c.ReturnPath = func(l *schedule.Message) string { return verp.Address(l.ID) }
	})
	if _, err := snd.Drain(t.Context(), at(senderNow), 1); err != nil {
		t.Fatal(err)
	}
	_, after, _ := strings.Cut(srv.commands(), "MAIL FROM:<")
	from, _, _ := strings.Cut(after, ">")
	if id, ok := verp.Message(from); !ok || id != 1 {
		t.Errorf("return path %q is not letter 1's", from)
	}
}

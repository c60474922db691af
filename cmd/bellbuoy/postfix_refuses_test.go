package main

import (
	"bufio"
	"bytes"
	"fmt"
	"net"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"

	"bellbuoy/notify"
	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/testkit"
)

// moodyShop is the shop of the scripts on a spring day on which two customers,
// Maren and Odalys, are to be reminded, with mail switched on.
func moodyShop(t *testing.T, address, more string) *testShop {
	t.Helper()
	s := newShop(t, lindrake(t, (&mailbox{address: address}).settings()+more))
	s.today = testkit.Text("2027-04-01")
	s.do(t, "import", testkit.Folder(t, filepath.Join(testdata, "worked")))
	s.do(t, "mail", "on")
	return s
}

// sends runs "mail send" on a day and wants these words in what it says.
func (s *testShop) sends(t *testing.T, day, want string) {
	t.Helper()
	s.today = testkit.Text(day)
	out := s.tryDo(t, "mail", "send")
	if !strings.Contains(out, want) {
		t.Errorf("on %s mail send says %swant %s", day, out, want)
	}
}

// rung is why a customer is on the call list on the shop's day, "" if not.
func (s *testShop) called(t *testing.T, customer string) notify.CallReason {
	t.Helper()
	h := s.open(t)
	day, err := civil.Parse(s.today)
	if err != nil {
		t.Fatal(err)
	}
	r, err := h.Recipient(t.Context(), customer)
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range notify.CallList(r, h.Policy(), day.At(12, 0, h.Config.Zone())) {
		return c.Reason
	}
	return ""
}

// policy answers Postfix's questions about each recipient, in the protocol of
// its check_policy_service.
type policy struct {
	mu     sync.Mutex
	answer string
	asked  int
}

func startPolicy(t *testing.T, answer string) (p *policy, address string) {
	t.Helper()
	p = &policy{answer: answer}
	return p, accepts(t, p.talk)
}

// accepts hands each connection to an address of its own on, until the test ends.
func accepts(t *testing.T, talk func(net.Conn)) (address string) {
	t.Helper()
	ln, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { ln.Close() })
	go func() {
		for {
			c, err := ln.Accept()
			if err != nil {
				return
			}
			go talk(c)
		}
	}()
	return ln.Addr().String()
}

func (p *policy) talk(c net.Conn) {
	defer c.Close()
	for in := bufio.NewScanner(c); in.Scan(); {
		if in.Text() != "" {
			continue
		}
		p.mu.Lock()
		answer := p.answer
		p.asked++
		p.mu.Unlock()
		fmt.Fprintf(c, "action=%s\n\n", answer)
	}
}

func (p *policy) say(answer string) {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.answer = answer
}

func askFirst(address string) string {
	return "smtpd_recipient_restrictions = check_policy_service inet:" + address + ", permit_mynetworks, reject"
}

// TestPostfixGreylists: at first it wants everybody to come back later.
func TestPostfixGreylists(t *testing.T) {
	grey, address := startPolicy(t, "450 4.2.0 Greylisted, please come back later")
	p := startPostfix(t, askFirst(address))
	s := moodyShop(t, p.address, "")
	s.sends(t, "2027-04-01", "0 sent, 2 to be tried again")
	s.sends(t, "2027-04-01", "0 sent, 0 to be tried again")
	grey.say("dunno")
	for _, l := range doJSON[[]emailJSON](t, s, "mail", "list") {
		wait := l.Next.Sub(l.Queued)
		if l.State != schedule.MessageDeferred || l.Attempts != 1 || wait.Minutes() < 8 || wait.Minutes() > 12.5 || !strings.Contains(l.Answer, "Greylisted") {
			t.Errorf("%+v waits %s", l, wait)
		}
	}
	s.sends(t, "2027-04-02", "2 sent, 0 to be tried again")
	p.delivered(t, 2)
	s.sends(t, "2027-04-03", "0 sent")
	if got := p.delivered(t, 2); len(got) != 2 || s.called(t, "W1") != "" {
		t.Errorf("%d mails arrived; Maren is rung for %q", len(got), s.called(t, "W1"))
	}
}

// TestPostfixKnowsNobody: it refuses one recipient for good, 550 5.1.1, and the
// customer is rung. The other gets her mail.
func TestPostfixKnowsNobody(t *testing.T) {
	p := startPostfix(t, "virtual_mailbox_maps = inline:{ {odalys@example.org=inbox/} }")
	s := moodyShop(t, p.address, "")
	s.sends(t, "2027-04-01", "1 sent, 0 to be tried again, 1 refused")
	p.delivered(t, 1)
	for _, l := range doJSON[[]emailJSON](t, s, "mail", "list", "--state", "refused") {
		if l.To != "maren@example.com" || l.Attempts != 1 || !strings.Contains(l.Answer, "User unknown") {
			t.Errorf("%+v", l)
		}
	}
	if maren, odalys := s.called(t, "W1"), s.called(t, "W3"); maren != notify.CallBounced || odalys != "" {
		t.Errorf("Maren is rung for %q, Odalys for %q", maren, odalys)
	}
	s.sends(t, "2027-05-10", "1 sent") // the last call goes to Odalys alone
}

// TestPostfixBlocksUs: 550 5.7.1 from two domains is our fault; from one mailbox it
// would be its own affair. Nothing more is tried until a person has looked, nobody
// is muted, nothing is lost.
func TestPostfixBlocksUs(t *testing.T) {
	block, address := startPolicy(t, "550 5.7.1 Your address is on our blocklist")
	p := startPostfix(t, askFirst(address))
	s := moodyShop(t, p.address, "")
	s.sends(t, "2027-04-01", "stopped: emails are refused by example.com and example.org")
	if block.asked != 2 {
		t.Errorf("%d recipients were tried", block.asked)
	}
	if out := s.do(t, "mail", "status"); !strings.Contains(out, "blocklist") || !strings.Contains(out, "The mail server refuses us") {
		t.Errorf("mail status says %s", out)
	}
	if maren, odalys := s.called(t, "W1"), s.called(t, "W3"); maren != "" || odalys != "" {
		t.Errorf("Maren is rung for %q, Odalys for %q", maren, odalys)
	}
	block.say("dunno")
	s.sends(t, "2027-04-02", "") // still stopped
	if got := letters(t, s); got[schedule.MessageSent] != 0 {
		t.Fatalf("letters went out past the stop: %v", got)
	}
	s.do(t, "mail", "release")
	s.sends(t, "2027-04-02", "2 sent")
	p.delivered(t, 2)
}

// cutter passes a connection on to a server and cuts it at a moment.
type cutter struct {
	to string
	mu sync.Mutex
	at cutAt
}

type cutAt string

const (
	cutNever   cutAt = ""
	cutAtDATA  cutAt = "at DATA"              // before the server has agreed to take the letter
	cutInBody  cutAt = "in the letter"        // before the final dot reaches the server
	cutAtReply cutAt = "at the answer to dot" // the server has taken it and we do not hear so
)

func startCutter(t *testing.T, to string) (c *cutter, address string) {
	t.Helper()
	c = &cutter{to: to}
	return c, accepts(t, c.pass)
}

func (c *cutter) cut(at cutAt) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.at = at
}

func (c *cutter) is(at cutAt) bool {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.at == at
}

// pass carries what the client says line by line, so that the moment is met
// exactly, and what the server says as it comes.
func (c *cutter) pass(client net.Conn) {
	defer client.Close()
	server, err := net.Dial("tcp", c.to)
	if err != nil {
		return
	}
	defer server.Close()
	taken := make(chan struct{}) // the server has answered the dot
	var dot sync.Once
	go c.answers(server, client, func() { dot.Do(func() { close(taken) }) })
	data := false
	for in := bufio.NewReader(client); ; {
		line, err := in.ReadBytes('\n')
		if err != nil {
			return
		}
		command := strings.ToUpper(strings.TrimSpace(string(line)))
		switch {
		case !data && command == "DATA" && c.is(cutAtDATA), data && c.is(cutInBody):
			return
		case !data && command == "DATA":
			data = true
		}
		end := data && command == "."
		if end && c.is(cutAtReply) {
			c.cutReply(server, line, taken)
			return
		}
		if _, err := server.Write(line); err != nil {
			return
		}
		data = data && !end
	}
}

// cutReply gives the server the dot and keeps its answer from the client.
func (c *cutter) cutReply(server net.Conn, line []byte, taken chan struct{}) {
	if _, err := server.Write(line); err == nil {
		<-taken
	}
}

// answers passes on what the server says; the one to the dot, "queued as", only
// if it is to arrive.
func (c *cutter) answers(server, client net.Conn, taken func()) {
	defer taken()
	buf := make([]byte, 4096)
	for {
		n, err := server.Read(buf)
		if bytes.Contains(buf[:n], []byte("queued as")) && c.is(cutAtReply) {
			return
		}
		if _, werr := client.Write(buf[:n]); err != nil || werr != nil {
			client.Close()
			return
		}
	}
}

// TestPostfixIsCutOff loses the connection to a real server at three moments.
// Where the server cannot have the letter it is sent again; where it may, it is
// uncertain and never sent twice.
func TestPostfixIsCutOff(t *testing.T) {
	for _, c := range []struct {
		at      cutAt
		arrived int // before anybody tries again
		states  []schedule.MessageState
	}{
		{cutAtDATA, 0, []schedule.MessageState{schedule.MessageDeferred}},
		// All of a short letter is in the network before the cut is felt: then
		// the dot is marked, and only a person can know.
		{cutInBody, 0, []schedule.MessageState{schedule.MessageDeferred, schedule.MessageUncertain}},
		{cutAtReply, 1, []schedule.MessageState{schedule.MessageUncertain}},
	} {
		t.Run(string(c.at), func(t *testing.T) {
			p := startPostfix(t)
			wire, address := startCutter(t, p.address)
			s := moodyShop(t, address, "per_minute = 1\n")
			wire.cut(c.at)
			s.sends(t, "2027-04-01", "0 sent")
			if c.arrived > 0 {
				p.delivered(t, c.arrived)
			}
			states := doJSON[[]emailJSON](t, s, "mail", "list")
			first := states[len(states)-1]
			ok := false
			for _, want := range c.states {
				ok = ok || first.State == want
			}
			if !ok {
				t.Fatalf("the letter is %s, want one of %v: %+v", first.State, c.states, first)
			}
			wire.cut(cutNever)
			for _, day := range []string{"2027-04-02", "2027-04-03", "2027-04-04"} {
				s.sends(t, day, "")
			}
			// Two letters: each arrived once, or is uncertain and never came.
			want := 2
			if first.State == schedule.MessageUncertain {
				want = 1 + c.arrived
			}
			once(t, p.delivered(t, want), want)
			if first.State == schedule.MessageUncertain {
				if out := s.do(t, "mail", "status"); !strings.Contains(out, "1 uncertain") {
					t.Errorf("mail status says %s", out)
				}
			}
			if why := s.called(t, first.Customer); why != "" {
				t.Errorf("the customer is rung for %q", why)
			}
		})
	}
}

// once wants so many mails, no two the same.
func once(t *testing.T, files []string, n int) {
	t.Helper()
	ids := map[string]int{}
	for _, f := range files {
		raw, err := os.ReadFile(f)
		if err != nil {
			t.Fatal(err)
		}
		for line := range strings.SplitSeq(string(raw), "\n") {
			if id, ok := strings.CutPrefix(line, "Message-ID: "); ok {
				ids[id]++
			}
		}
	}
	if len(files) != n || len(ids) != n {
		t.Errorf("%d mails of %d letters arrived, want %d", len(files), len(ids), n)
	}
}

// TestPostfixSendsBack has a real server accept a letter for somebody whom it
// does not know and report that to the letter's own return address, from where
// it is handed to "mail bounce" as a mail host does.
func TestPostfixSendsBack(t *testing.T) {
	p := startPostfix(t, "smtpd_reject_unlisted_recipient = no",
		"virtual_mailbox_domains = example.com, example.org, example.net, bounce.lindrake.example",
		"virtual_mailbox_maps = inline:{ {odalys@example.org=inbox/} {@bounce.lindrake.example=bounces/} }",
		"recipient_delimiter =")
	s := moodyShop(t, p.address, "bounce_domain = \"bounce.lindrake.example\"\n")
	s.sends(t, "2027-04-01", "2 sent")
	report, err := os.ReadFile(p.box(t, "bounces", 1)[0])
	if err != nil {
		t.Fatal(err)
	}
	out := s.doWith(t, bytes.NewReader(report), "mail", "bounce")
	if !strings.Contains(out, "maren@example.com came back (dead)") || !strings.Contains(out, "on the call list") {
		t.Errorf("mail bounce says %s of\n%s", out, report)
	}
	if maren, odalys := s.called(t, "W1"), s.called(t, "W3"); maren != notify.CallBounced || odalys != "" {
		t.Errorf("Maren is rung for %q, Odalys for %q", maren, odalys)
	}
	if out := s.doWith(t, bytes.NewReader(report), "mail", "bounce"); !strings.Contains(out, "Read before") {
		t.Errorf("the second time mail bounce says %s", out)
	}
}

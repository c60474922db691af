package send_test

import (
	"bufio"
	"bytes"
	"context"
	"crypto/tls"
	"io"
	"net"
	"strings"
	"sync"
	"testing"
	"time"

	"bellbuoy/notify/send"
	"bellbuoy/schedule"
)

// moods are what a server may do at a stage instead of going on, in the order of the
// columns of moodTable, where right is the answer that it would give otherwise.
var moods = []struct {
	name string
	say  func(m *moody, c net.Conn, right string) bool // false ends the connection
}{
	{"4xx", func(_ *moody, c net.Conn, _ string) bool { return writes(c, "451 4.3.0 not now\r\n") }},
	{"5xx", func(_ *moody, c net.Conn, _ string) bool { return writes(c, "554 5.3.0 no\r\n") }},
	{"421", func(_ *moody, c net.Conn, _ string) bool { writes(c, "421 4.3.2 closing\r\n"); return false }},
	{"close", func(*moody, net.Conn, string) bool { return false }},
	{"reset", func(_ *moody, c net.Conn, _ string) bool { reset(c); return false }},
	{"hang", func(m *moody, _ net.Conn, _ string) bool { <-m.over; return false }},
	{"garbage", func(_ *moody, c net.Conn, _ string) bool { return writes(c, "\x00\xff\x16\x03 what?\r\n") }},
	{"slow", func(_ *moody, c net.Conn, right string) bool {
		for i := range len(right) {
			time.Sleep(2 * time.Millisecond)
			writes(c, right[i:i+1])
		}
		return true
	}},
	{"half a line", func(_ *moody, c net.Conn, right string) bool { writes(c, right[:2]); return false }},
	{"endless line", func(_ *moody, c net.Conn, right string) bool {
		return writes(c, right[:3]+" "+strings.Repeat("x", 1<<20)) && writes(c, "\r\n")
	}},
	{"two codes", func(m *moody, c net.Conn, right string) bool {
		writes(c, right[:3]+"-one\r\n554 5.3.0 another\r\n")
		<-m.over
		return false
	}},
	{"two answers", func(_ *moody, c net.Conn, right string) bool { return writes(c, right+"250 2.0.0 and again\r\n") }},
}

// moodTable is what must be on file of a letter after a server had a mood at a
// stage: Q waits and was not begun, P the same and the queue is stopped until a person
// looks, D waits for another attempt, d the same and stopped, R is refused, U is
// uncertain, S is sent. Columns are the moods.
var moodTable = []struct{ stage, want string }{
	//            4xx 5xx 421 close reset hang garbage slow half endless codes answers
	{"banner", "  Q   P   Q   Q     Q     Q    Q       S    Q    Q       Q     Q"},
	{"EHLO", "    Q   P   Q   Q     Q     Q    Q       S    Q    Q       Q     Q"},
	{"STARTTLS", "Q   P   Q   Q     Q     Q    Q       S    Q    Q       Q     S"},
	{"TLS", "     Q   Q   Q   Q     Q     Q    Q       S    Q    Q       Q     Q"},
	{"AUTH", "    Q   P   Q   Q     Q     Q    Q       S    Q    Q       Q     D"},
	{"MAIL", "    D   d   D   D     D     D    D       S    D    D       D     D"},
	{"RCPT", "    D   R   D   D     D     D    D       S    D    D       D     D"},
	{"DATA", "    D   R   D   D     D     D    D       S    D    D       D     S"},
	{"body", "    D   D   D   D     D     D    D       S    D    D       D     D"},
	{"dot", "     D   R   D   U     U     U    U       S    U    U       U     S"},
	{"QUIT", "    S   S   S   S     S     S    S       S    S    S       S     S"},
}

// moodState is what a letter of moodTable stands for.
var moodState = map[string]schedule.MessageState{
	"Q": schedule.MessageQueued, "P": schedule.MessageQueued, "D": schedule.MessageDeferred, "d": schedule.MessageDeferred,
	"R": schedule.MessageRefused, "U": schedule.MessageUncertain, "S": schedule.MessageSent,
}

// The deadlines of these senders.
const (
	moodCommand   = 700 * time.Millisecond
	moodBeforeDot = 5 * time.Second
)

// TestMoodsOfAServer has a letter meet a server with each mood at each stage, over TLS
// and signed in. The letter is on file as it must be, the turn ends in time, and when the
// server is itself again the letter goes out, unless it may have arrived or was refused:
// it never arrives twice, and no letter is lost. In short runs it is a third of the table.
func TestMoodsOfAServer(t *testing.T) {
	server, client := scriptTLS(t)
	for row, r := range moodTable {
		for column, want := range strings.Fields(r.want) {
			if testing.Short() && (row+column)%3 > 0 {
				continue
			}
			t.Run(r.stage+" "+moods[column].name, func(t *testing.T) {
				t.Parallel()
				m := serveMoody(t, r.stage, column, server)
				box := newBox(1)
				if r.stage == "body" { // 2.5 MB, more than the network holds by itself, and no work for the slowest machine
					box.letters[0].Raw = append(box.letters[0].Raw, bytes.Repeat([]byte("It is time for the boat, said the shop.\r\n"), 60_000)...)
				}
				snd := m.sender(t, box, client)
				begun := time.Now()
				if _, err := snd.Drain(t.Context(), at(senderNow), 10); err != nil {
					t.Fatal(err)
				}
				// Only what another program on this machine takes is without a limit here.
				if took := time.Since(begun); took > 4*moodBeforeDot {
					t.Errorf("the turn took %s", took)
				}
				l := &box.letters[0]
				if l.State != moodState[want] || box.paused != (want == "P" || want == "d") {
					t.Errorf("the letter is %s (%d %s), stopped %t; want %s", l.State, l.Code, l.Answer, box.paused, want)
				}
				arrived := m.arrived()
				if arrived > 0 != (l.State == schedule.MessageSent) {
					t.Errorf("the letter is %s and arrived %d times", l.State, arrived)
				}
				m.cheerUp()
				box.paused = false
				if _, err := snd.Drain(t.Context(), at(senderNow.Add(time.Hour)), 10); err != nil {
					t.Fatal(err)
				}
				lost := l.State == schedule.MessageRefused || l.State == schedule.MessageUncertain
				if n := m.arrived(); n > 1 || n == 0 && !lost {
					t.Errorf("in the end the letter is %s (%d %s) and arrived %d times", l.State, l.Code, l.Answer, n)
				}
			})
		}
	}
}

// moody is a mail server that has a mood at one stage until it is cheered up.
type moody struct {
	tls    *tls.Config
	ln     net.Listener
	mu     sync.Mutex
	stage  string
	column int
	letter int           // how often it was accepted
	over   chan struct{} // closed when the mood is over
}

func serveMoody(t *testing.T, stage string, column int, server *tls.Config) *moody {
	t.Helper()
	ln, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	m := &moody{tls: server, ln: ln, stage: stage, column: column, over: make(chan struct{})}
	var talks sync.WaitGroup
	talks.Go(func() {
		for {
			c, err := ln.Accept()
			if err != nil {
				return
			}
			talks.Go(func() {
				defer c.Close()
				// So that the network does not hold a long letter by itself.
				_ = c.(*net.TCPConn).SetReadBuffer(256 << 10)
				m.talk(c)
			})
		}
	})
	t.Cleanup(func() {
		ln.Close()
		talks.Wait()
	})
	return m
}

func (m *moody) sender(t *testing.T, box send.Outbox, client *tls.Config) *send.Sender {
	t.Helper()
	var open []net.Conn
	t.Cleanup(func() {
		for _, c := range open {
			c.Close()
		}
	})
	snd, err := send.New(box, send.Config{
		Server: m.ln.Addr().String(), Security: send.StartTLS, TLS: client, Hello: "shop.example", Lanes: 1,
		Auth: "plain", User: "me", Secret: func(context.Context) (string, error) { return "s3cret", nil },
		Command: moodCommand, BeforeDot: moodBeforeDot, AfterDot: moodCommand, Bookkeeping: moodBeforeDot,
		Dial: func(ctx context.Context, network, address string) (net.Conn, error) {
			c, err := new(net.Dialer).DialContext(ctx, network, address)
			if err == nil {
				open = append(open, c)
				err = c.(*net.TCPConn).SetWriteBuffer(256 << 10)
			}
			return c, err
		},
	})
	if err != nil {
		t.Fatal(err)
	}
	return snd
}

func (m *moody) arrived() int {
	m.mu.Lock()
	defer m.mu.Unlock()
	return m.letter
}

func (m *moody) cheerUp() {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.stage = ""
	close(m.over)
}

// at says what is right at a stage, or what the mood says; false ends the connection.
// Whether the server goes on as if it had said what is right is in right.
func (m *moody) at(c net.Conn, stage, right string) (on, meant bool) {
	m.mu.Lock()
	in := m.stage == stage
	m.mu.Unlock()
	if !in {
		return writes(c, right), true
	}
	name := moods[m.column].name
	return moods[m.column].say(m, c, right), name == "slow" || name == "two answers"
}

// talk is one connection: TLS, then a name and a password, then letters.
func (m *moody) talk(c net.Conn) {
	in := bufio.NewReader(c)
	if on, _ := m.at(c, "banner", "220 moody\r\n"); !on {
		return
	}
	secure := false
	for {
		line, err := nextLine(in)
		if err != nil {
			return
		}
		verb, _, _ := strings.Cut(strings.ToUpper(line), " ")
		right := "250 2.0.0 ok\r\n"
		switch verb {
		case "EHLO":
			right = "250-moody\r\n250-STARTTLS\r\n250 ENHANCEDSTATUSCODES\r\n"
			if secure {
				right = "250-moody\r\n250 AUTH PLAIN\r\n"
			}
		case "STARTTLS":
			right = "220 go\r\n"
		case "AUTH":
			right = "235 2.7.0 in\r\n"
		case "DATA":
			right = "354 go on\r\n"
		}
		on, meant := m.at(c, verb, right)
		if !on || verb == "QUIT" {
			return
		}
		switch {
		case !meant:
		case verb == "STARTTLS":
			if c = m.secured(c); c == nil {
				return
			}
			in, secure = bufio.NewReader(c), true
		case verb == "DATA":
			if !m.letterIn(c, in) {
				return
			}
		}
	}
}

// secured is the connection under TLS, nil if it does not come to that.
func (m *moody) secured(c net.Conn) net.Conn {
	m.mu.Lock()
	in := m.stage == "TLS"
	m.mu.Unlock()
	if mood := moods[m.column]; in && mood.name != "slow" {
		mood.say(m, c, "220 go\r\n")
		return nil
	} else if in {
		c = slowConn{c}
	}
	s := tls.Server(c, m.tls)
	if s.Handshake() != nil {
		return nil
	}
	return s
}

// slowConn writes a few bytes at a time.
type slowConn struct{ net.Conn }

func (c slowConn) Write(b []byte) (n int, err error) {
	for len(b) > 0 && err == nil {
		time.Sleep(time.Millisecond)
		k := min(16, len(b))
		_, err = c.Conn.Write(b[:k])
		b, n = b[k:], n+k
	}
	return n, err
}

// letterIn takes a letter in up to its dot and answers that; false ends the connection.
func (m *moody) letterIn(c net.Conn, in *bufio.Reader) bool {
	m.mu.Lock()
	body := m.stage == "body"
	m.mu.Unlock()
	for n := 0; ; n++ {
		line, err := nextLine(in)
		if err != nil {
			return false
		}
		if line == "." {
			break
		}
		switch mood := moods[m.column]; {
		case !body || n != 100:
		case mood.name == "slow":
			time.Sleep(moodCommand / 4)
		default:
			mood.say(m, c, "250 2.0.0 ok\r\n")
			return false
		}
	}
	on, meant := m.at(c, "dot", "250 2.0.0 queued\r\n")
	if meant {
		m.mu.Lock()
		m.letter++
		m.mu.Unlock()
	}
	return on
}

// nextLine reads what a client says.
func nextLine(in *bufio.Reader) (string, error) {
	line, err := in.ReadString('\n')
	return strings.TrimRight(line, "\r\n"), err
}

func writes(c net.Conn, text string) bool {
	_, err := io.WriteString(c, text)
	return err == nil
}

// reset breaks a connection off without the usual farewell of TCP.
func reset(c net.Conn) {
	if s, ok := c.(*tls.Conn); ok {
		c = s.NetConn()
	}
	if s, ok := c.(slowConn); ok {
		c = s.Conn
	}
	_ = c.(*net.TCPConn).SetLinger(0)
	c.Close()
}

package send_test

import (
	"context"
	"io"
	"net"
	"testing"
	"time"

	"github.com/emersion/go-smtp"
	gomail "github.com/wneessen/go-mail"

	"bellbuoy/notify"
	"bellbuoy/notify/internal/fixture"
	"bellbuoy/notify/send"
	"bellbuoy/schedule"
)

// sink is a mail server that takes everything and keeps nothing.
type sink struct{}

func (sink) NewSession(*smtp.Conn) (smtp.Session, error) { return sink{}, nil }
func (sink) Mail(string, *smtp.MailOptions) error        { return nil }
func (sink) Rcpt(string, *smtp.RcptOptions) error        { return nil }
func (sink) Reset()                                      {}
func (sink) Logout() error                               { return nil }
func (sink) Data(r io.Reader) error {
	_, err := io.Copy(io.Discard, r)
	return err
}

func startSink(b *testing.B) net.Addr {
	b.Helper()
	ln, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		b.Fatal(err)
	}
	srv := smtp.NewServer(sink{})
	done := make(chan struct{})
	go func() {
		defer close(done)
		srv.Serve(ln) // ends with the listener
	}()
	b.Cleanup(func() { srv.Close(); <-done })
	return ln.Addr()
}

// BenchmarkSend compares the sender, letter by letter with its outbox calls,
// with a bare loop of the mail library, to the same sink over one connection.
// The outbox is in memory: what the file costs is measured where the file is.
func BenchmarkSend(b *testing.B) {
	n := fixture.Cases(b)["invitation"]
	letter, err := fixture.Renderer(b, nil).Message(&n, fixture.Links)
	if err != nil {
		b.Fatal(err)
	}
	b.Run("sender", func(b *testing.B) {
		addr := startSink(b)
		box := newBox(b.N)
		for i := range box.letters {
			box.letters[i].Raw = letter.Raw
		}
		cfg := send.Config{Server: addr.String(), Security: send.NoTLS, PerConnection: b.N + 1, Lanes: 1}
		snd, err := send.New(&queueBox{fakeBox: box}, cfg)
		if err != nil {
			b.Fatal(err)
		}
		b.ResetTimer()
		res, err := snd.Drain(b.Context(), at(senderNow), b.N)
		if err != nil || res.Sent != b.N {
			b.Fatalf("%+v, %v", res, err)
		}
	})
	b.Run("library", func(b *testing.B) {
		addr := startSink(b).(*net.TCPAddr)
		c, err := gomail.NewClient("127.0.0.1", gomail.WithPort(addr.Port), gomail.WithTLSPolicy(gomail.NoTLS), gomail.WithoutNoop())
		if err != nil {
			b.Fatal(err)
		}
		_, text, page := fixture.Bodies(b, letter.Raw)
		msgs := make([]*gomail.Msg, b.N)
		for i := range msgs {
			m := gomail.NewMsg()
			if err := m.From("service@kettlecove.example"); err != nil {
				b.Fatal(err)
			}
			if err := m.To("asa@mail.example"); err != nil {
				b.Fatal(err)
			}
			m.Subject(letter.Subject)
			m.SetBodyString(gomail.TypeTextPlain, text)
			m.AddAlternativeString(gomail.TypeTextHTML, page)
			msgs[i] = m
		}
		b.ResetTimer()
		if err := c.DialAndSend(msgs...); err != nil {
			b.Fatal(err)
		}
	})
}

// queueBox hands out letters in order without searching.
type queueBox struct {
	*fakeBox
	next int
}

func (b *queueBox) Claim(context.Context, time.Time, time.Duration) (schedule.Message, error) {
	if b.next == len(b.letters) {
		return schedule.Message{}, schedule.ErrNone
	}
	b.next++
	return b.letters[b.next-1], nil
}

func (b *queueBox) MarkDot(context.Context, int64, string, time.Time) error { return nil }

func (b *queueBox) BelieveDead(context.Context, time.Time) error           { return nil }
func (b *queueBox) Brake(context.Context, schedule.Brake, time.Time) error { return nil }

func (b *queueBox) RecordOutcome(context.Context, int64, string, schedule.Outcome, time.Time) error {
	return nil
}

func BenchmarkRender(b *testing.B) {
	n := fixture.Cases(b)["invitation"]
	r := fixture.Renderer(b, nil)
	b.ReportAllocs()
	for b.Loop() {
		if _, err := r.Message(&n, fixture.Links); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkDecide(b *testing.B) {
	cfg := notify.DefaultPolicy(fixture.Zone(b))
	r := fixture.Recipient(fixture.Boat("B1", "Heron", fixture.LayUp("B1")), fixture.Boat("B2", "Wren", fixture.LayUp("B2")))
	now := fixture.At(b, "2026-08-25 10:00")
	b.ReportAllocs()
	for b.Loop() {
		notify.Decide(r, cfg, now)
	}
}

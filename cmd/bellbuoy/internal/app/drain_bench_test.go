package app_test

import (
	"fmt"
	"net"
	"path/filepath"
	"testing"
	"time"

	gomail "github.com/wneessen/go-mail"

	"bellbuoy/cmd/bellbuoy/internal/mailsink"
	"bellbuoy/notify/send"
	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/store"
	"bellbuoy/store/outbox"
	"bellbuoy/store/storetest"
)

// BenchmarkDrain drains a real outbox, crash-safe with all its commits, to a
// local mail server, as it does to such a one and over a single connection,
// beside a bare loop of the mail library to the same server with messages of the
// same size. Run it with -benchtime 10000x on a machine that does nothing else:
// the outbox waits for its turn on the processor and the disk more often.
func BenchmarkDrain(b *testing.B) {
	now := time.Date(2027, 4, 5, 15, 0, 0, 0, time.UTC)
	const body = "Heron is pencilled for her lay-up in the week of 5 October.\r\n"
	text := ""
	for range 100 {
		text += body
	}
	server := func(b *testing.B) *net.TCPAddr {
		ln, err := net.Listen("tcp", "127.0.0.1:0")
		if err != nil {
			b.Fatal(err)
		}
		srv := mailsink.Serve(ln, mailsink.New(1))
		b.Cleanup(func() { srv.Close() })
		return ln.Addr().(*net.TCPAddr)
	}
	outbox := func(b *testing.B, lanes int) {
		db, err := store.Open(b.Context(), filepath.Join(b.TempDir(), "shop.db"))
		if err != nil {
			b.Fatal(err)
		}
		defer db.Close()
		if err := outbox.SetSending(b.Context(), db, now, "bench", true); err != nil {
			b.Fatal(err)
		}
		// Each letter names a visit, which is looked at again when it is claimed.
		visit := schedule.Visit{ID: "B.lay-up.2027", BoatID: "B", Kind: schedule.LayUp, Season: 2027, Day: civil.Of(2027, 10, 5), Price: 31000}
		for _, err := range []error{
			storetest.SaveCustomer(b.Context(), db, now, "bench", schedule.Customer{ID: "C", Name: "Asa", Email: "asa@mail.example", ContactBy: "email"}),
			storetest.SaveBoat(b.Context(), db, now, "bench", schedule.Boat{ID: "B", Name: "Heron"}),
			storetest.SetOwner(b.Context(), db, now, "bench", "B", "C", civil.Of(2026, 1, 1)),
		} {
			if err != nil {
				b.Fatal(err)
			}
		}
		if _, err := db.SavePlans(b.Context(), now, []store.NewPlan{{BoatID: "B", Plan: schedule.BoatPlan{Visits: []schedule.Visit{visit}}}}); err != nil {
			b.Fatal(err)
		}
		names := []schedule.Named{{Standing: "asa@mail.example email"}, {ID: visit.ID, Standing: visit.Standing(0)}}
		var letters []outbox.NewMessage
		for i := range b.N {
			letters = append(letters, outbox.NewMessage{Message: schedule.Message{
				Key: fmt.Sprint(i), CustomerID: "C", Names: names, To: "asa@mail.example", From: "service@lindrake.example", Step: schedule.StepInvitation,
				MessageID: fmt.Sprintf("%d@lindrake.example", i), Subject: "Heron", State: schedule.MessageQueued, NextAt: now, NotAfter: now.Add(24 * time.Hour),
				Raw: []byte("From: service@lindrake.example\r\nTo: asa@mail.example\r\nSubject: Heron\r\n\r\n" + text),
			}})
		}
		if n, err := outbox.Enqueue(b.Context(), db, now, letters); err != nil || n != b.N {
			b.Fatalf("%d queued: %v", n, err)
		}
		snd, err := send.New(outbox.NewQueue(db), send.Config{Server: server(b).String(), Security: send.NoTLS, Lanes: lanes})
		if err != nil {
			b.Fatal(err)
		}
		b.ResetTimer()
		res, err := snd.Drain(b.Context(), func() time.Time { return now }, b.N)
		if err != nil || res.Sent != b.N {
			b.Fatalf("%+v, %v", res, err)
		}
	}
	b.Run("outbox", func(b *testing.B) { outbox(b, 0) })
	b.Run("single", func(b *testing.B) { outbox(b, 1) })
	b.Run("library", func(b *testing.B) {
		c, err := gomail.NewClient("127.0.0.1", gomail.WithPort(server(b).Port), gomail.WithTLSPolicy(gomail.NoTLS))
		if err != nil {
			b.Fatal(err)
		}
		msgs := make([]*gomail.Msg, b.N)
		for i := range msgs {
			m := gomail.NewMsg()
			if err := m.From("service@lindrake.example"); err != nil {
				b.Fatal(err)
			}
			if err := m.To("asa@mail.example"); err != nil {
				b.Fatal(err)
			}
			m.Subject("Heron")
			m.SetBodyString(gomail.TypeTextPlain, text)
			msgs[i] = m
		}
		b.ResetTimer()
		if err := c.DialAndSend(msgs...); err != nil {
			b.Fatal(err)
		}
	})
}

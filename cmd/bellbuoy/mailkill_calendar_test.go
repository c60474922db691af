package main

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/store/outbox"
	"bellbuoy/store/storetest"
)

// TestCalendarLettersStayInOrder kills "mail send" again and again while invitations,
// their changes and cancellations are under way over many connections. None is
// lost or accepted twice, and of no appointment does a later letter arrive before an
// earlier one.
func TestCalendarLettersStayInOrder(t *testing.T) {
	if testing.Short() {
		t.Skip("kills many senders")
	}
	rng := rand.New(rand.NewPCG(17, 2))
	kills := 3 * killsEach(t)
	s, box, day := sendingShop(t, "per_minute = 0\n")
	const each = 3 // invited, moved, called off
	appointments := 25 * (kills + 1)
	queueAppointments(t, s, day, appointments, each)
	for range kills {
		stage := []mailStage{stageMail, stageRcpt, stageBody, stageDot, stageAccepted}[rng.IntN(5)]
		s.killSendingAt(t, box, stage, 5+rng.IntN(40))
		day++ // the leases of the dead run out
		s.today = day.String()
	}
	for range kills + each + 4 {
		s.do(t, "mail", "send")
		day++
		s.today = day.String()
	}
	counts, lost := s.tally(t, box)
	if counts[schedule.MessageSent]+counts[schedule.MessageUncertain] != appointments*each {
		t.Errorf("%v of %d letters", counts, appointments*each)
	}
	arrived := map[int][]int{}
	for _, id := range box.order {
		var a, n int
		if _, err := fmt.Sscanf(id, "<a%d-%d@lindrake.example>", &a, &n); err != nil {
			t.Fatal(id, err)
		}
		arrived[a] = append(arrived[a], n)
	}
	for a, order := range arrived {
		if !slices.IsSorted(order) {
			t.Errorf("of appointment %d the letters arrived in the order %v", a, order)
		}
	}
	t.Logf("%d kills, %d appointments: %v; of the uncertain %d did not arrive", kills, len(arrived), counts, lost)
}

// queueAppointments queues so many letters about each appointment, all at once.
func queueAppointments(t *testing.T, s *testShop, day civil.Day, appointments, each int) {
	t.Helper()
	h := s.open(t)
	now := day.At(9, 0, h.Config.Zone())
	var letters []outbox.NewMessage
	for a := range appointments {
		for n := range each {
			id, customer := fmt.Sprintf("a%d-%d@lindrake.example", a, n), fmt.Sprint("C", a)
			l := schedule.Message{
				Key: id, CustomerID: customer, To: fmt.Sprintf("c%d@example.com", a), From: "service@lindrake.example",
				Step: schedule.StepConfirmation, MessageID: id, Raw: fmt.Appendf(nil, "Message-ID: <%s>\r\nSubject: a day\r\n\r\nIt is booked, and this says so at some length.\r\n", id), NextAt: now,
			}
			start := (day + 30 + civil.Day(n)).At(9, 0, h.Config.Zone())
			letters = append(letters, outbox.NewMessage{Message: l, Invitation: &schedule.Invitation{
				UID: fmt.Sprint("uid-", a), CustomerID: customer, Address: l.To, Day: day + 30 + civil.Day(n), Start: start, End: start.Add(time.Hour),
				Visits: []string{"V"}, Sequence: n, Stamp: now, Cancelled: n == each-1,
			}})
		}
	}
	if got, err := outbox.Enqueue(t.Context(), storetest.Writer(t, h.DB), now, letters); err != nil || got != len(letters) {
		t.Fatalf("%d queued, %v", got, err)
	}
	if err := h.Close(); err != nil {
		t.Fatal(err)
	}
}

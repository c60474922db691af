package app_test

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"bellbuoy/cmd/bellbuoy/internal/app"
	"bellbuoy/notify"
	"bellbuoy/notify/bounce"
	"bellbuoy/notify/send"
	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/store/archive"
	"bellbuoy/store/outbox"
	"bellbuoy/store/report"
)

// post is a shop that has sent letters.
type post struct {
	*app.App
	t            *testing.T
	now          time.Time
	sent         []schedule.Message
	way          *send.Sender // to a mail server, once it is asked for
	lanes, asked int
}

// newPost has the demo shop queue its first reminders. They need not leave it
// to come back.
func newPost(t *testing.T, more string) *post {
	t.Helper()
	today := civil.Of(2027, 3, 15)
	cfg := readSettings(t, 3, more)
	file, made := postFiles.Load(more)
	if made {
		if err := os.WriteFile(cfg.Path(cfg.Files.Database), file.([]byte), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	a := openConfig(t, cfg)
	p := &post{App: a, t: t, now: today.At(10, 0, a.Config.Zone())}
	if !made {
		takeDemo(t, a, 60, 4, today)
		settle(t, a, today)
		if err := a.SwitchSending(t.Context(), p.now, "test", true); err != nil {
			t.Fatal(err)
		}
		if n, err := a.Remind(t.Context(), p.now); err != nil || n < 4 {
			t.Fatalf("%d letters, %v", n, err)
		}
		copied := filepath.Join(t.TempDir(), "post.db")
		err := archive.Backup(t.Context(), a.DB, copied)
		if err == nil {
			file, err = os.ReadFile(copied)
		}
		if err != nil {
			t.Fatal(err)
		}
		postFiles.Store(more, file)
	}
	var err error
	if p.sent, err = outbox.Messages(t.Context(), a.DB, outbox.MessageQuery{}); err != nil {
		t.Fatal(err)
	}
	return p
}

// postFiles are the databases that newPost has made, by their settings: to invent and
// plan a shop takes most of a second.
var postFiles sync.Map

// take hands a message in.
func (p *post) take(message string, to ...string) app.Incoming {
	p.t.Helper()
	in, err := p.TakeIn(p.t.Context(), p.now, "test", []byte(message), to...)
	if err != nil {
		p.t.Fatal(err)
	}
	return in
}

// rung reports why the phone round has a customer, "" if it does not.
func (p *post) called(customer string) notify.CallReason {
	p.t.Helper()
	r, err := p.Recipient(p.t.Context(), customer)
	if err != nil {
		p.t.Fatal(err)
	}
	for _, c := range notify.CallList(r, p.Policy(), p.now) {
		return c.Reason
	}
	return ""
}

// noted reports whether every boat of a customer shows that mail came back.
func (p *post) noted(customer string) bool {
	p.t.Helper()
	boats, err := p.DB.BoatsOf(p.t.Context(), customer)
	if err != nil || len(boats) == 0 {
		p.t.Fatal(len(boats), err)
	}
	for _, b := range boats {
		changes, err := report.Changes(p.t.Context(), p.DB, b.ID, 0, 1)
		if err != nil {
			p.t.Fatal(err)
		}
		if len(changes) == 0 || changes[0].What != "email came back" || !strings.Contains(changes[0].After, "no such user") {
			return false
		}
	}
	return true
}

const withReturnPaths = "bounce_domain = \"bounce.lindrake.example\"\n"

// returnedTo is a bounce as mail hosts word them.
func returnedTo(to, recipient, words string) string {
	return "From: Mail Delivery Subsystem <MAILER-DAEMON@relay.example>\r\nTo: " + to +
		"\r\nSubject: Undelivered mail returned to sender\r\n\r\nYour mail could not be delivered.\r\n\r\n<" + recipient + ">: " + words + "\r\n"
}

// quoting appends the head of the letter that came back.
func quoting(message string, l *schedule.Message) string {
	return message + "\r\n------ This is a copy of your message, including all the headers. ------\r\n\r\nMessage-ID: <" + l.MessageID + ">\r\nTo: " + l.To + "\r\n"
}

func TestADeadAddressGoesOnTheCallList(t *testing.T) {
	p := newPost(t, withReturnPaths)
	l := &p.sent[0]
	path, err := p.ReturnPath(l.ID)
	if err != nil {
		t.Fatal(err)
	}
	message := returnedTo(path, l.To, "550 5.1.1 no such user")
	in := p.take(message)
	if in.Kind != bounce.Dead || in.OutboxID != l.ID || !in.Suppressed || in.CustomerID != l.CustomerID {
		t.Errorf("%+v", in)
	}
	if got := p.called(l.CustomerID); got != notify.CallBounced {
		t.Errorf("the phone round has the customer for %q", got)
	}
	if !p.noted(l.CustomerID) {
		t.Error("the boats' pages do not show it")
	}
	if in := p.take(message); !in.Repeated || in.Suppressed {
		t.Errorf("handed in again: %+v", in)
	}
	if left, err := outbox.Message(t.Context(), p.DB, l.ID); err != nil || left.State != schedule.MessageWithdrawn {
		t.Errorf("what waited for the address is %s, %v", left.State, err)
	}
}

func TestALetterIsKnownByItsIDWithoutReturnPaths(t *testing.T) {
	p := newPost(t, "")
	l := &p.sent[1]
	in := p.take(quoting(returnedTo("service@lindrake.example", l.To, "550 5.1.1 no such user"), l))
	if in.OutboxID != l.ID || !in.Suppressed {
		t.Errorf("%+v", in)
	}
}

// TestAForgedBounceMutesNobody has what an outsider could write who knows the
// customer's address and how the letters are numbered.
func TestAForgedBounceMutesNobody(t *testing.T) {
	p := newPost(t, withReturnPaths)
	l := &p.sent[0]
	other, err := bounce.NewVERP("bounce.lindrake.example", []byte("another shop's secret key"))
	if err != nil {
		t.Fatal(err)
	}
	guessed := *l
	guessed.MessageID = strings.Repeat("0", 24) + "@lindrake.example"
	for name, message := range map[string]string{
		"no proof":              returnedTo("service@lindrake.example", l.To, "550 5.1.1 no such user"),
		"a guessed tag":         returnedTo(other.Address(l.ID), l.To, "550 5.1.1 no such user"),
		"a guessed id":          quoting(returnedTo("service@lindrake.example", l.To, "550 5.1.1 no such user"), &guessed),
		"a complaint":           "From: abuse@relay.example\r\nTo: service@lindrake.example\r\nContent-Type: multipart/report; report-type=feedback-report; boundary=x\r\n\r\n--x\r\nContent-Type: message/feedback-report\r\n\r\nFeedback-Type: abuse\r\nOriginal-Rcpt-To: " + l.To + "\r\n\r\n--x--\r\n",
		"stop, out of thin air": "From: " + l.To + "\r\nTo: service@lindrake.example\r\nSubject: stop\r\n\r\nstop\r\n",
		"stop, from elsewhere":  "From: mallory@relay.example\r\nTo: service@lindrake.example\r\nIn-Reply-To: <" + l.MessageID + ">\r\nSubject: stop\r\n\r\nstop\r\n",
		"a guessed stop":        "From: " + l.To + "\r\nTo: stop+" + strings.Repeat("a", 40) + "@bounce.lindrake.example\r\n\r\n",
	} {
		t.Run(name, func(t *testing.T) {
			p.t = t
			if in := p.take(message); in.Suppressed || in.Paused || in.Kind == app.IncomingStop {
				t.Errorf("%+v", in)
			}
		})
	}
	reach, err := outbox.MailStatuses(t.Context(), p.DB, []string{l.CustomerID})
	if err != nil || reach[l.CustomerID].Suppressed != "" || reach[l.CustomerID].NoReminders {
		t.Errorf("the customer is muted: %+v, %v", reach, err)
	}
}

func TestWhatComesBackHasItsEffect(t *testing.T) {
	p := newPost(t, withReturnPaths)
	path := func(i int) string {
		a, err := p.ReturnPath(p.sent[i].ID)
		if err != nil {
			t.Fatal(err)
		}
		return a
	}
	complaint := "From: fbl@relay.example\r\nContent-Type: multipart/report; report-type=feedback-report; boundary=x\r\n\r\n--x\r\nContent-Type: message/feedback-report\r\n\r\nFeedback-Type: abuse\r\nVersion: 1\r\n\r\n--x\r\nContent-Type: message/rfc822\r\n\r\nMessage-ID: <" + p.sent[2].MessageID + ">\r\n\r\n--x--\r\n"
	for name, c := range map[string]struct {
		message string
		to      []string
		want    app.Incoming
	}{
		"a full mailbox":           {returnedTo(path(0), p.sent[0].To, "552 5.2.2 mailbox full"), nil, app.Incoming{Kind: bounce.Soft}},
		"delayed":                  {strings.Replace(returnedTo(path(0), p.sent[0].To, "451 4.4.1 no answer, will try again"), "Undelivered mail", "Delivery delayed: mail", 1), nil, app.Incoming{Kind: bounce.Delayed}},
		"on holiday":               {"From: " + p.sent[0].To + "\r\nTo: " + path(0) + "\r\nAuto-Submitted: auto-replied\r\nSubject: Out of office\r\n\r\nBack in May.\r\n", nil, app.Incoming{Kind: bounce.AutoReply}},
		"a complaint":              {complaint, nil, app.Incoming{Kind: bounce.Complaint, Suppressed: true}},
		"our fault":                {returnedTo(path(1), p.sent[1].To, "550 5.7.26 unauthenticated mail is not accepted"), nil, app.Incoming{Kind: bounce.Ours, Paused: true}},
		"known only by the pipe":   {returnedTo("undisclosed recipients", p.sent[3].To, "550 5.1.1 no such user"), []string{path(3)}, app.Incoming{Kind: bounce.Dead, Suppressed: true}},
		"somebody wrote something": {"From: x@mail.example\r\nSubject: Wren\r\n\r\nIs she ready?\r\n", nil, app.Incoming{Kind: app.IncomingPerson}},
	} {
		t.Run(name, func(t *testing.T) {
			p.t = t
			in := p.take(c.message, c.to...)
			if in.Kind != c.want.Kind || in.Suppressed != c.want.Suppressed || in.Paused != c.want.Paused {
				t.Errorf("got %+v, want %+v", in, c.want)
			}
		})
	}
	if st, err := outbox.Sending(t.Context(), p.DB); err != nil || !strings.Contains(st.PausedWhy, "5.7.26") {
		t.Errorf("the queue is paused for %q, %v", st.PausedWhy, err)
	}
}

// TestAMailboxFullForWeeksIsGivenUp: three letters, and a week between the first
// and the last.
func TestAMailboxFullForWeeksIsGivenUp(t *testing.T) {
	p := newPost(t, withReturnPaths)
	l := p.sent[0]
	for i, c := range []struct {
		days int
		want bool
	}{{0, false}, {2, false}, {3, false}, {10, true}} {
		l.ID, l.Key, l.MessageID, l.Raw = 0, fmt.Sprint("more ", i), fmt.Sprintf("more%d@lindrake.example", i), []byte("x")
		l.State = schedule.MessageQueued
		if _, err := outbox.Enqueue(t.Context(), p.Writer(), p.now, []outbox.NewMessage{{Message: l}}); err != nil {
			t.Fatal(err)
		}
		p.now = p.now.AddDate(0, 0, c.days)
		in := p.take(quoting(returnedTo("service@lindrake.example", l.To, "552 5.2.2 mailbox full"), &l))
		if in.Suppressed != c.want {
			t.Errorf("letter %d, after %d more days: %+v", i+1, c.days, in)
		}
	}
}

func TestStopByMail(t *testing.T) {
	p := newPost(t, withReturnPaths)
	whole, err := outbox.Message(t.Context(), p.DB, p.sent[0].ID)
	if err != nil {
		t.Fatal(err)
	}
	_, rest, ok := strings.Cut(strings.ReplaceAll(string(whole.Raw), "\r\n ", " "), "<mailto:")
	address, _, _ := strings.Cut(rest, "?")
	if !ok || !strings.HasPrefix(address, "stop+") {
		t.Fatalf("List-Unsubscribe has no address:\n%.900s", whole.Raw)
	}
	for name, c := range map[string]struct {
		letter  int
		message string
	}{
		"to the stop address":        {0, "From: anybody@mail.example\r\nTo: " + strings.ToUpper(address) + "\r\nSubject: stop\r\n\r\n"},
		"as an answer to the letter": {1, "From: " + p.sent[1].To + "\r\nTo: service@lindrake.example\r\nIn-Reply-To: <" + p.sent[1].MessageID + ">\r\nSubject: Re: your boat\r\n\r\nSTOP\r\n"},
	} {
		t.Run(name, func(t *testing.T) {
			p.t = t
			customer := p.sent[c.letter].CustomerID
			if in := p.take(c.message); in.Kind != app.IncomingStop || in.Repeated || in.CustomerID != customer {
				t.Errorf("%+v", in)
			}
			reach, err := outbox.MailStatuses(t.Context(), p.DB, []string{customer})
			if err != nil || !reach[customer].NoReminders || reach[customer].NoMail {
				t.Errorf("%+v, %v", reach, err)
			}
			if in := p.take(c.message); !in.Repeated {
				t.Errorf("again: %+v", in)
			}
		})
	}
}

// TestHoursByReply: the reply to a request for hours whose first own line holds one
// number that the meter may show is the reading; anything else is for a person.
func TestHoursByReply(t *testing.T) {
	p := newPost(t, withReturnPaths)
	var l schedule.Message
	var meter schedule.Outlook
	for _, sent := range p.sent {
		boats, err := p.DB.BoatsOf(t.Context(), sent.CustomerID)
		if err != nil {
			t.Fatal(err)
		}
		for _, b := range boats {
			f, err := p.Facts(t.Context(), b.ID)
			if err != nil {
				t.Fatal(err)
			}
			if m := p.Planner.HoursOutlook(&f, p.day()); len(m) == 1 && m[0].LastDay != 0 && m[0].Most > m[0].LastHours+20 {
				l, meter = sent, m[0]
				l.Subjects = []string{b.ID + ".hours.2026.1"}
			}
		}
	}
	if meter.LastDay == 0 {
		t.Fatal("nobody has a boat with one meter")
	}
	l.ID, l.Key, l.MessageID, l.Raw, l.Step, l.State = 0, "ask", "ask@lindrake.example", []byte("x"), schedule.StepHours, schedule.MessageQueued
	if _, err := outbox.Enqueue(t.Context(), p.Writer(), p.now, []outbox.NewMessage{{Message: l}}); err != nil {
		t.Fatal(err)
	}
	boat, _, _ := strings.Cut(l.Subjects[0], ".")
	reply := func(from, line string) string {
		return "From: " + from + "\r\nTo: service@lindrake.example\r\nIn-Reply-To: <ask@lindrake.example>\r\nSubject: Re: hours\r\n\r\n" + line + "\r\n\r\n> what does the meter read?\r\n> 9999\r\n"
	}
	next := meter.LastHours + 15
	for _, c := range []struct {
		name, from, line string
		kind             bounce.Kind
	}{
		{"two numbers", l.To, next.String() + " or 12", app.IncomingPerson},
		{"none", l.To, "I will look on Saturday", app.IncomingPerson},
		{"less than the last", l.To, (meter.LastHours - 1).String(), app.IncomingPerson},
		{"more than can be", l.To, (meter.Most + 10).String(), app.IncomingPerson},
		{"from somebody else", "x@mail.example", next.String(), app.IncomingPerson},
		{"the number", l.To, "It shows " + next.String() + " hours, thanks!", app.IncomingHours},
		{"the same again", l.To, next.String(), app.IncomingHours},
	} {
		if in := p.take(reply(c.from, c.line)); in.Kind != c.kind {
			t.Errorf("%s: %+v, want %s", c.name, in, c.kind)
		}
		f, err := p.Facts(t.Context(), boat)
		if err != nil {
			t.Fatal(err)
		}
		n := 0
		for _, r := range f.Readings {
			if r.Day == p.day() && r.Hours == next && r.ReadBy == "customer" {
				n++
			}
		}
		if want := map[bounce.Kind]int{app.IncomingPerson: 0, app.IncomingHours: 1}[c.kind]; n != want {
			t.Errorf("%s: %d readings of %s, want %d", c.name, n, next, want)
		}
	}
}

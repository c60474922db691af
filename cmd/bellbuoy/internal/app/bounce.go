package app

import (
	"context"
	"crypto/sha256"
	"errors"
	"fmt"
	"regexp"
	"slices"
	"strings"
	"time"

	"bellbuoy/notify/bounce"
	"bellbuoy/notify/link"
	"bellbuoy/notify/send"
	"bellbuoy/schedule"
	"bellbuoy/schedule/measure"
	"bellbuoy/schedule/words"
	"bellbuoy/store"
	"bellbuoy/store/outbox"
)

// What a message was that came to the return address, beside the kinds of
// bounce.
const (
	IncomingStop   bounce.Kind = "stop"   // a customer wants no more reminders
	IncomingHours  bounce.Kind = "hours"  // a customer replied with what the hour meter reads
	IncomingPerson bounce.Kind = "person" // somebody wrote it: a person must read it

	IncomingCalendar bounce.Kind = "calendar reply"    // a customer's calendar took an appointment
	IncomingDeclined bounce.Kind = "calendar declined" // it did not: the visit stays booked until a person has asked
)

// Incoming is what became of one message that came to the return address.
type Incoming struct {
	Kind       bounce.Kind
	OutboxID   int64  // that it is about, 0 if it names none of ours
	CustomerID string // "" if it names nobody
	Address    string // that the letter went to
	Why        string // in words
	Repeated   bool   // it was taken in before; nothing was done
	Suppressed bool   // no more mail goes to the address; the customer is on the call list
	Paused     bool   // nothing more is sent until a person has looked
}

// Handled reports whether no person needs to read the message.
func (in *Incoming) Handled() bool { return in.Kind != IncomingPerson && in.Kind != IncomingDeclined }

const (
	softLimit  = 3                   // letters that came back for a reason that passes, or that is not said
	softWithin = 60 * 24 * time.Hour // within so long,
	softSpan   = 7 * 24 * time.Hour  // and so long apart: the address is given up
)

// TakeIn reads a message that came to the return address and does what follows
// from it, once for each message. deliveredTo are the addresses that the mail
// host says it came to, beside those in its header. Nobody is muted by a message
// that does not know a secret: it must have come to a letter's own return
// address, or quote the Message-ID of a letter.
func (a *App) TakeIn(ctx context.Context, now time.Time, actor string, message []byte, deliveredTo ...string) (Incoming, error) {
	reply := bounce.ParseReply(message, a.Planner.Settings().Texts)
	if in, ok, err := a.stopAddress(ctx, now, append(reply.To, deliveredTo...)); ok || err != nil {
		return in, err
	}
	if in, ok, err := a.calendarReply(ctx, now, actor, message); ok || err != nil {
		return in, err
	}
	b, err := bounce.Parse(message)
	if errors.Is(err, bounce.ErrNotBounce) {
		return a.takeReply(ctx, now, &reply)
	}
	if err != nil {
		return Incoming{}, err
	}
	b.To = append(b.To, deliveredTo...)
	l, known, err := a.returnedMessage(ctx, &b)
	if err != nil {
		return Incoming{}, err
	}
	sum := sha256.Sum256(message)
	r := outbox.ReturnedMail{Hash: sum[:], Kind: string(b.Kind), Why: returnedWhy(&b)}
	if known && b.Failed() {
		if err := a.judgeReturned(ctx, now, &r, &b, &l); err != nil {
			return Incoming{}, err
		}
	}
	taken, err := outbox.TakeReturned(ctx, a.db, now, actor, r)
	return Incoming{
		Kind: b.Kind, OutboxID: r.OutboxID, CustomerID: r.CustomerID, Address: r.Address, Why: r.Why,
		Repeated: !taken, Suppressed: taken && r.Suppress, Paused: taken && r.Pause,
	}, err
}

// calendarReply takes what a customer's calendar sent back about an appointment: it
// is shown with the boats, and changes nothing by itself. One that names no
// invitation of ours, or comes for another address, is for a person.
func (a *App) calendarReply(ctx context.Context, now time.Time, actor string, message []byte) (Incoming, bool, error) {
	reply, ok := bounce.ParseCalendarReply(message)
	if !ok {
		return Incoming{}, false, nil
	}
	v, letter, err := outbox.Invited(ctx, a.DB, reply.UID, reply.Attendee)
	if isNotFound(err) {
		return Incoming{Kind: IncomingPerson}, true, nil
	}
	if err != nil {
		return Incoming{}, true, err
	}
	in := Incoming{Kind: IncomingCalendar, OutboxID: letter, CustomerID: v.CustomerID, Address: v.Address}
	in.Why = "the calendar of " + v.Address + " replied to the appointment on " + a.Config.Format().Date(v.Day) + ": " + strings.ToLower(reply.Answer)
	if reply.Answer == "DECLINED" {
		in.Kind = IncomingDeclined
		in.Why += "; the visit stays booked, please ask"
	}
	sum := sha256.Sum256(message)
	r := outbox.ReturnedMail{Hash: sum[:], Kind: string(in.Kind), OutboxID: letter, CustomerID: v.CustomerID, Address: v.Address, Why: in.Why}
	boats, err := a.DB.BoatsOf(ctx, v.CustomerID)
	if err != nil {
		return Incoming{}, true, err
	}
	for i := range boats {
		r.BoatIDs = append(r.BoatIDs, boats[i].ID)
	}
	taken, err := outbox.TakeReturned(ctx, a.db, now, actor, r)
	in.Repeated = !taken
	return in, true, err
}

// returnedMessage finds the letter that a bounce is about.
func (a *App) returnedMessage(ctx context.Context, b *bounce.Bounce) (l schedule.Message, known bool, err error) {
	for _, to := range b.To {
		if a.verp == nil {
			break
		}
		id, ours := a.verp.Message(to)
		if !ours {
			continue
		}
		// An address that we made and a letter that is gone: an older backup.
		if l, err = outbox.Message(ctx, a.DB, id); !isNotFound(err) {
			return l, err == nil, err
		}
	}
	return a.quotedMessage(ctx, b.MessageID)
}

func (a *App) quotedMessage(ctx context.Context, messageIDs ...string) (schedule.Message, bool, error) {
	for _, id := range messageIDs {
		l, err := outbox.ByMessageID(ctx, a.DB, id)
		if !isNotFound(err) {
			return l, err == nil, err
		}
	}
	return schedule.Message{}, false, nil
}

// judgeReturned decides what a returned letter means for its address.
func (a *App) judgeReturned(ctx context.Context, now time.Time, r *outbox.ReturnedMail, b *bounce.Bounce, l *schedule.Message) error {
	r.OutboxID, r.CustomerID, r.Address = l.ID, l.CustomerID, l.To
	r.Suppress, r.Pause = b.Suppress(), b.Kind == bounce.Ours
	if b.Kind == bounce.Policy {
		others, err := outbox.ReturnedTo(ctx, a.DB, r.Kind, now.Add(-24*time.Hour), now)
		if err != nil {
			return err
		}
		r.Pause = send.PolicyIsOurs(append(others, l.To))
	}
	if b.Kind == bounce.Dead {
		sent, err := outbox.LatelySent(ctx, a.DB, now.Add(-send.ReturnedSpan))
		if err != nil {
			return err
		}
		if r.Brake = send.BrakeReturned(sent, l.ID, r.Why); r.Brake.Why != "" {
			r.Suppress, r.Pause = false, true
		}
	}
	if b.Kind == bounce.Soft || b.Kind == bounce.Unclear {
		n, since, err := outbox.ReturnedFrom(ctx, a.DB, l.To, now.Add(-softWithin), l.ID)
		if err != nil {
			return err
		}
		if n+1 >= softLimit && now.Sub(since) >= softSpan {
			r.Suppress, r.Why = true, fmt.Sprintf("%d emails since %s came back, the last one with: %s", n+1, a.Day(since), r.Why)
		}
	}
	if l.CustomerID == "" {
		return nil
	}
	boats, err := a.DB.BoatsOf(ctx, l.CustomerID)
	for i := range boats {
		r.BoatIDs = append(r.BoatIDs, boats[i].ID)
	}
	return err
}

// returnedWhy says in one line what a returned message reports.
func returnedWhy(b *bounce.Bounce) string {
	if b.Kind == bounce.Complaint {
		return "the reader marked our email as unwanted (" + b.Diagnostic + ")"
	}
	said := b.Diagnostic
	if b.Status != "" && !strings.Contains(said, b.Status) {
		said = strings.TrimSpace(b.Status + " " + said)
	}
	if said == "" {
		said = string(b.Kind)
	}
	return said
}

// stopMail is the address at which a customer's mail program stops the
// reminders, "" where there is none or it would be too long for a mail host.
func (a *App) stopMail(token string) string {
	if a.verp == nil || len(stopLocal)+len(token) > 64 {
		return ""
	}
	return stopLocal + token + "@" + strings.ToLower(a.Config.Mail.BounceDomain)
}

const stopLocal = "stop+"

// stopAddress takes a message to a customer's own stop address.
func (a *App) stopAddress(ctx context.Context, now time.Time, to []string) (Incoming, bool, error) {
	for _, address := range to {
		local, _, _ := strings.Cut(address, "@")
		token, plus := strings.CutPrefix(strings.ToLower(local), stopLocal)
		if !plus {
			continue
		}
		// One whose generation is over still stops: whoever holds an old mail
		// must be able to.
		who, ours := a.addresses.Parse(link.PurposeStop, token)
		if !ours || who.Scope != link.ScopeCustomer {
			continue
		}
		in, err := a.stopReminders(ctx, now, who.Subject)
		return in, true, err
	}
	return Incoming{}, false, nil
}

// takeReply takes a reply that says stop or what an hour meter reads, if it answers
// a letter and comes from where that letter went; all else is for a person.
func (a *App) takeReply(ctx context.Context, now time.Time, r *bounce.Reply) (Incoming, error) {
	person := Incoming{Kind: IncomingPerson}
	l, known, err := a.quotedMessage(ctx, r.Answers...)
	if err != nil || !known || l.CustomerID == "" || !strings.EqualFold(l.To, r.From) {
		return person, err
	}
	in, ok := person, false
	switch {
	case r.Stop:
		in, err = a.stopReminders(ctx, now, l.CustomerID)
		ok = true
	case l.Step == schedule.StepHours:
		in, ok, err = a.hoursReply(ctx, now, &l, r.First)
	}
	if err != nil || !ok {
		return person, err
	}
	in.OutboxID, in.Address = l.ID, l.To
	return in, err
}

// oneNumber is a line that says one number, in whatever words.
var oneNumber = regexp.MustCompile(`^[^0-9]*?([0-9]+(?:[.,][0-9])?)[^0-9]*$`)

// hoursReply takes the reply to a request for a meter's figure: a line with one
// number that the meter may show, from the last one on file to what it shows in
// all but one case of a hundred. False if a person must read it: a boat with
// several meters, a number that is none of these, a meter that was never read.
func (a *App) hoursReply(ctx context.Context, now time.Time, l *schedule.Message, line string) (Incoming, bool, error) {
	number := oneNumber.FindStringSubmatch(line)
	if number == nil || len(l.Subjects) != 1 {
		return Incoming{}, false, nil
	}
	hours, err := measure.ParseHours(strings.Replace(number[1], ",", ".", 1))
	boatID, _, named := strings.Cut(l.Subjects[0], ".hours.")
	if err != nil || !named {
		return Incoming{}, false, nil
	}
	owner, err := a.OwnerOf(ctx, boatID)
	if err != nil || owner.ID != l.CustomerID {
		return Incoming{}, false, err
	}
	f, err := a.Facts(ctx, boatID)
	if err != nil {
		return Incoming{}, false, err
	}
	today := a.Day(now)
	meters := a.Planner.HoursOutlook(&f, today)
	if len(meters) != 1 || meters[0].LastDay == 0 || hours < meters[0].LastHours || hours > meters[0].Most {
		return Incoming{}, false, nil
	}
	in := Incoming{Kind: IncomingHours, CustomerID: l.CustomerID, Why: "replied that the hour meter reads " + hours.String()}
	reading := schedule.Reading{ComponentID: meters[0].Component.ID, Day: today, Hours: hours, ReadBy: "customer"}
	if slices.Contains(f.Readings, reading) {
		in.Repeated = true
		return in, true, nil
	}
	_, err = a.Reply(ctx, now, store.NewAnswer{
		Answer:   schedule.Answer{CustomerID: l.CustomerID, BoatID: boatID, Kind: schedule.AnswerHours, Note: words.OneLine(line)},
		Readings: []schedule.Reading{reading},
	})
	return in, true, err
}

// stopReminders is the one click of a mail program, by mail.
func (a *App) stopReminders(ctx context.Context, now time.Time, customerID string) (Incoming, error) {
	in := Incoming{Kind: IncomingStop, CustomerID: customerID, Why: "asked by email for no more reminders"}
	had, err := a.DB.MailChoice(ctx, customerID)
	if isNotFound(err) {
		return Incoming{Kind: IncomingPerson}, nil
	}
	if err != nil || had.NoReminders {
		in.Repeated = err == nil
		return in, err
	}
	answer := schedule.Answer{CustomerID: customerID, Kind: schedule.AnswerMails}
	_, err = a.Reply(ctx, now, store.NewAnswer{Answer: answer, Mails: store.MailChoice{NoReminders: true, NoMail: had.NoMail}})
	return in, err
}

// returnPath gives the letters' own return addresses, nil while the settings
// have no domain for them.
func (a *App) returnPath() func(*schedule.Message) string {
	if a.verp == nil {
		return nil
	}
	return func(l *schedule.Message) string { return a.verp.Address(l.ID) }
}

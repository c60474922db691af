package app

import (
	"context"
	"errors"
	"fmt"
	"net/mail"
	"slices"
	"time"

	"bellbuoy/notify"
	"bellbuoy/notify/message"
	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/words"
	"bellbuoy/store/freeze"
	"bellbuoy/store/outbox"
)

// TellOfFreeze queues what an alarm that stands has people told: desk and owner
// of the shop once, and each owner of a boat at risk once. Without freeze.emails
// in the settings, or while sending is off, nothing is queued. It returns how many
// emails were.
func (a *App) TellOfFreeze(ctx context.Context, now time.Time) (int, error) {
	if why, err := a.whyNoFreezeMail(ctx); err != nil || why != "" {
		return 0, err
	}
	open, err := freeze.Events(ctx, a.DB, a.Day(now))
	if err != nil || !slices.ContainsFunc(open, func(e freeze.Event) bool { return e.Ended == "" }) {
		return 0, err
	}
	places, err := a.FreezeWatch(ctx, now, FreezeTellings)
	if err != nil {
		return 0, err
	}
	n := 0
	for i := range places {
		if places[i].Event == nil || len(places[i].Boats) == 0 {
			continue
		}
		k, err := a.tellPlace(ctx, now, &places[i])
		n += k
		if err != nil {
			return n, err
		}
	}
	return n, nil
}

func (a *App) tellPlace(ctx context.Context, now time.Time, p *FreezePlace) (int, error) {
	own, err := a.freezeReports(p, now)
	if err != nil {
		return 0, err
	}
	n, err := a.enqueue(ctx, now, own)
	if err != nil {
		return n, err
	}
	due, err := a.freezeNotices(ctx, now, p)
	if err != nil {
		return n, err
	}
	k, err := a.queue(ctx, now, due)
	return n + k, err
}

// freezeNotices are what the owners of boats at risk are told of an alarm.
func (a *App) freezeNotices(ctx context.Context, now time.Time, p *FreezePlace) ([]notify.Notice, error) {
	owners, alerts := p.alerts()
	var due []notify.Notice
	for _, id := range owners {
		r, err := a.Recipient(ctx, id)
		if err != nil {
			return nil, err
		}
		if notice, ok := notify.FreezeNotice(r, *alerts[id], a.freezeRules(), a.Policy(), now); ok {
			due = append(due, notice)
		}
	}
	return due, nil
}

// rehearseFreeze are the emails about the alarms that stand, as they would leave
// on a day if sending were on; none without freeze.emails in the settings.
func (a *App) rehearseFreeze(ctx context.Context, day civil.Day) ([]notify.Notice, error) {
	if !a.Config.Freeze.Emails {
		return nil, nil
	}
	from := a.freezeRules().From
	at := day.At(from/60, from%60, a.Config.Zone())
	places, err := a.FreezeWatch(ctx, at, FreezeBoats)
	var all []notify.Notice
	for i := range places {
		due, e := a.freezeNotices(ctx, at, &places[i])
		all, err = append(all, due...), errors.Join(err, e)
	}
	return all, err
}

// freezeReports are the emails to the shop's own desk and owner.
func (a *App) freezeReports(p *FreezePlace, now time.Time) ([]outbox.NewMessage, error) {
	var out []outbox.NewMessage
	var sent []string
	for _, to := range []string{a.Config.Shop.Email, a.Config.Shop.OwnerEmail} {
		address, err := mail.ParseAddress(to)
		if to == "" || err != nil || slices.Contains(sent, address.Address) {
			continue
		}
		sent = append(sent, address.Address)
		r := a.freezeReport(p)
		r.To, r.At, r.NotAfter = address.Address, now, p.Freeze.Night.At(12, 0, a.Config.Zone())
		r.Key = fmt.Sprintf("%s|%s|freeze-alarm", freeze.Subject(p.Event.ID), address.Address)
		m, err := a.Report(&r)
		if err != nil {
			return nil, err
		}
		out = append(out, outbox.NewMessage{Message: m})
	}
	return out, nil
}

// mostListed is how many boats an email to the desk names.
const mostListed = 12

func (a *App) freezeReport(p *FreezePlace) message.Report {
	url, in := a.Config.Shop.URL+"/freeze", a.Config.Format()
	r := message.Report{Step: "freeze-alarm", Title: fmt.Sprintf("Freeze alarm for %s: %s", p.Place, p.Freeze.Words(in)), More: message.Hyperlink{Label: "The whole list, with phone numbers", URL: url}}
	lines := []message.Sentence{{Text: p.Alarm(in)}, {Text: p.Hours(in)}}
	if calls := len(p.FreezeCalls()); calls > 0 {
		lines = append(lines, message.Sentence{Text: fmt.Sprintf("To call, because email does not reach them or is not wanted: %s.", words.Plural(calls, "boat's owner", "boats' owners")),
			Link: message.Hyperlink{Label: "Call list", URL: a.Config.Shop.URL + "/calls"}})
	}
	r.Sections = append(r.Sections, message.Section{Lines: lines})
	boats := message.Section{Title: "The first to freeze"}
	for i := range p.Boats[:min(mostListed, len(p.Boats))] {
		b := &p.Boats[i]
		text := fmt.Sprintf("%s, %s: %s %s", b.Boat.Title(), ownerAndPhone(&b.Owner), b.Why, b.Standing(in))
		boats.Lines = append(boats.Lines, message.Sentence{Text: text})
	}
	r.Sections = append(r.Sections, boats)
	return r
}

func ownerAndPhone(c *schedule.Customer) string {
	switch {
	case c.ID == "":
		return "no owner on file"
	case c.Phone == "":
		return c.Name + ", no phone number on file"
	}
	return c.Name + ", " + c.Phone
}

// Alarm says in a sentence or two what is coming and how many boats it concerns.
func (p *FreezePlace) Alarm(in words.Format) string {
	exposed := 0
	for i := range p.Boats {
		if !p.Boats[i].InTime {
			exposed++
		}
	}
	verb := "is"
	if exposed != 1 {
		verb = "are"
	}
	s := fmt.Sprintf("%s is forecast where the boats lie at %s, in %s. Of %s there %d %s not winterized, would freeze and %s not booked in before it.",
		in.Temperature(p.Freeze.Tenths), p.Place, p.Freeze.When(in), words.Plural(p.InCare, "boat", "boats"), exposed, verb, verb)
	for i := range p.Nights {
		if n := &p.Nights[i]; n.To == p.Freeze.Night && n.Known {
			s += fmt.Sprintf(" The chance of a hard freeze is about %.0f%%.", 100*n.Chance)
		}
	}
	return s
}

// Brief is the same in a line.
func (p *FreezePlace) Brief(in words.Format) string {
	s := fmt.Sprintf("%s at %s, in %s: %s at risk, of %d.", in.Temperature(p.Freeze.Tenths), p.Place, p.Freeze.When(in), words.Plural(len(p.Boats), "boat is", "boats are"), p.InCare)
	if p.Short > 0 {
		s += " " + in.Number(float64(p.Short)/60, 1) + " h are missing until then."
	}
	return s
}

// Hours says what the technicians' hours until then are good for.
func (p *FreezePlace) Hours(in words.Format) string {
	hours := func(minutes int) string { return in.Number(float64(minutes)/60, 1) + " h" }
	s := fmt.Sprintf("Until %s %s of shop time are left; winterizing these boats alone takes %s.", in.Weekday(p.Freeze.Night-1), hours(p.Left), hours(p.Needed))
	if p.Short > 0 {
		s += fmt.Sprintf(" %s are missing.", hours(p.Short))
	}
	return s
}

// Standing says how a boat's winterization stands.
func (b *FreezeBoat) Standing(in words.Format) string {
	switch {
	case b.InTime:
		return "Booked for " + in.ShortMonthDay(b.Visit.Booking.Day) + ", in time."
	case b.After:
		return "Booked for " + in.ShortMonthDay(b.Visit.Booking.Day) + ", after the freeze."
	case b.Visit.Week != 0:
		return "Penciled in for the week of " + in.ShortMonthDay(b.Visit.Week.Monday()) + "."
	}
	return "Not booked."
}

// FreezeScript is what to say on the phone to whoever has a boat at risk.
func (a *App) FreezeScript(p *FreezePlace) string {
	in := a.Config.Format()
	return fmt.Sprintf("This is %s, about your boat at %s. %s is forecast for %s, and by our records the boat is not winterized. Can you bring it by %s, shall we pick it up, or is it done already? "+
		"If it stays out, water left in it can crack the engine. Please leave the draining to a technician; we will tell you today what we can fit in.",
		a.Config.Shop.Name, p.Place, in.Temperature(p.Freeze.Tenths), p.Freeze.When(in), in.Weekday(p.Freeze.Night-1))
}

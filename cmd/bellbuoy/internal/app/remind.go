package app

import (
	"context"
	"crypto/hkdf"
	"crypto/hmac"
	"crypto/sha256"
	"encoding/binary"
	"errors"
	"fmt"
	"net/url"
	"os"
	"path"
	"slices"
	"strings"
	"time"

	"bellbuoy/cmd/bellbuoy/internal/config"
	"bellbuoy/notify"
	"bellbuoy/notify/message"
	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/returns"
	"bellbuoy/schedule/rules"
	"bellbuoy/schedule/texts"
	"bellbuoy/store/outbox"
)

// newRenderer reads what every mail of the shop has in common. Message ids are
// made with a key of their own, derived from the shop's secret.
func newRenderer(c *config.Config, own *texts.Catalog, secret []byte) (*message.Renderer, error) {
	ids, err := hkdf.Key(sha256.New, secret, nil, "bellbuoy message ids 1", sha256.Size)
	if err != nil {
		return nil, fmt.Errorf("key of the message ids: %w", err)
	}
	var key *message.DKIM
	if c.Mail.DKIMKeyFile != "" {
		pem, err := os.ReadFile(c.Path(c.Mail.DKIMKeyFile))
		if err != nil {
			return nil, fmt.Errorf("settings: mail.dkim_key_file: %w", err)
		}
		if key, err = message.NewDKIM(c.Mail.DKIMDomain, c.Mail.DKIMSelector, pem); err != nil {
			return nil, err
		}
	}
	from, until := c.DropOff.Window()
	return message.NewRenderer(message.Shop{
		Name: c.Shop.Name, Address: c.Shop.Address, Phone: c.Shop.Phone, From: c.Mail.From, ReplyTo: c.Mail.ReplyTo,
		Host: c.Host(), Format: c.Format(), Language: c.Shop.Language, Zone: c.Zone(), Secret: ids,
		Arrival: message.Arrival{Map: c.DropOff.Map, Contact: c.DropOff.Contact, ByBerth: c.DropOff.Words, From: from, Until: until},
	}, own, key)
}

// ownTexts are what customers read, with the shop's own phrases in place of those
// built in; nil where it has none.
func ownTexts(c *config.Config) (*texts.Catalog, error) {
	if c.Files.Texts == "" {
		return nil, nil
	}
	own, err := os.ReadFile(c.Path(c.Files.Texts))
	if err != nil {
		return nil, fmt.Errorf("settings: files.texts: %w", err)
	}
	return texts.Read(c.Files.Texts, own)
}

// ErrNoSender says that mail cannot be made yet.
var ErrNoSender = errors.New("mail.from is not set in the settings; customers must see who writes to them")

// Policy is the shop's policy of reminding.
func (a *App) Policy() notify.PolicyConfig {
	c := a.Config
	r := &c.Reminders
	p := notify.DefaultPolicy(c.Zone())
	p.InvitationDays, p.NudgeDays, p.LastCallDays, p.OverdueDays = r.InvitationDays, r.NudgeDays, r.LastCallDays, r.OverdueDays
	p.Format = c.Format()
	p.GapDays, p.DailyCap, p.YearlyCap = r.GapDays, r.DailyCap, r.YearlyCap
	p.LeastNotice, p.SilentSeasons, p.SmallVisit = r.LeastNotice, r.SilentSeasons, schedule.Cents(r.SmallVisit*100+0.5)
	p.VisitNotice = a.partsNotice
	p.HoldOutPercent, p.Assignment = r.HoldOutPercent, a.lot
	from, until := minutes(r.From), minutes(r.Until)
	for d := range p.Window.Hours {
		p.Window.Hours[d] = [2]int{from, until}
	}
	p.Window.Hours[time.Sunday] = [2]int{}
	if !r.Saturdays {
		p.Window.Hours[time.Saturday] = [2]int{}
	}
	p.Window.Closed = c.IsClosed
	return p
}

// partsNotice is how many working days a visit needs for the parts that are ordered for
// it, 0 if all are in stock.
func (a *App) partsNotice(v *schedule.Visit) int {
	r := &a.Config.Reminders
	if len(r.PartsToOrder) == 0 {
		return 0
	}
	for _, rule := range a.Planner.Catalogue().Rules {
		ordered := slices.ContainsFunc(rule.Parts, func(p rules.Part) bool { return slices.Contains(r.PartsToOrder, p.Code) })
		if ordered && slices.ContainsFunc(v.Items, func(key string) bool { return strings.Contains(key, "/"+rule.Code+"@") }) {
			return r.PartsNotice
		}
	}
	return 0
}

// lot gives a customer's number for a season, from 0 to below 1: made from the
// shop's secret, so that it is the same at each asking and nobody can choose it.
func (a *App) lot(customerID string, season returns.Season) float64 {
	mac := hmac.New(sha256.New, a.assignmentKey)
	fmt.Fprintf(mac, "%s\n%s", season, customerID)
	const bits = 53 // as many as a float64 holds exactly
	return float64(binary.BigEndian.Uint64(mac.Sum(nil))>>(64-bits)) / (1 << bits)
}

// minutes reads "09:00", which the settings have checked, as a minute of the day.
func minutes(s string) int {
	t, err := time.Parse("15:04", s)
	if err != nil {
		return 0
	}
	return t.Hour()*60 + t.Minute()
}

// Remind decides for every customer what is to be told now, and queues it.
// While sending is off nothing is queued. It returns how many letters were.
func (a *App) Remind(ctx context.Context, now time.Time) (int, error) {
	st, err := outbox.Sending(ctx, a.DB)
	if err != nil || !st.On {
		return 0, err
	}
	if err := a.followAddresses(ctx, now); err != nil {
		return 0, err
	}
	// What was withdrawn and, as the daemon was stopped just then, not worded again.
	withdrawn, err := outbox.WithdrawnSince(ctx, a.DB, now.Add(-24*time.Hour))
	if err != nil {
		return 0, err
	}
	if _, err := a.wordAgain(ctx, now, withdrawn); err != nil {
		return 0, err
	}
	places, err := a.Places(ctx)
	if err != nil {
		return 0, err
	}
	var due []notify.Notice
	var draws []schedule.Holdout
	err = a.everyRecipient(ctx, a.boatsInOutline(places), func(r *schedule.Recipient) error {
		notices, drawn, err := a.decide(ctx, r, now)
		if err != nil {
			return err
		}
		due, draws = append(due, notices...), append(draws, drawn...)
		return nil
	})
	if err != nil {
		return 0, err
	}
	// Before the letters: a lot that is forgotten would be drawn again, and by
	// then only those who had not answered would be left.
	if err := outbox.SaveHoldouts(ctx, a.db, draws); err != nil {
		return 0, err
	}
	room, err := a.room(ctx, now)
	if err != nil {
		return 0, err
	}
	if due, err = a.inWords(ctx, now, notify.Choose(due, room)); err != nil {
		return 0, err
	}
	after, err := a.summaries(ctx, now)
	if err != nil {
		return 0, err
	}
	return a.queue(ctx, now, append(due, after...))
}

// inWords decides again for the customers of some notices that were decided by
// outlines, with their boats in words, and returns those notices.
func (a *App) inWords(ctx context.Context, now time.Time, outlined []notify.Notice) (worded []notify.Notice, err error) {
	wanted, customers := make(map[string]bool, len(outlined)), make([]string, len(outlined))
	for i := range outlined {
		wanted[outlined[i].Key], customers[i] = true, outlined[i].Customer.ID
	}
	for _, id := range unique(customers) {
		r, err := a.Recipient(ctx, id)
		if err != nil {
			return nil, err
		}
		notices, _, err := a.decide(ctx, &r, now)
		if err != nil {
			return nil, err
		}
		worded = append(worded, slices.DeleteFunc(notices, func(n notify.Notice) bool { return !wanted[n.Key] })...)
	}
	return worded, nil
}

// decide says what a customer should be told now, after lots were drawn for the
// nudges that are due. The draws must be kept before the notices are queued.
func (a *App) decide(ctx context.Context, r *schedule.Recipient, now time.Time) ([]notify.Notice, []schedule.Holdout, error) {
	if err := a.addDropped(ctx, r, a.Day(now)); err != nil {
		return nil, nil, err
	}
	policy := a.Policy()
	draws := notify.AssignHoldouts(*r, policy, now)
	r.Holdouts = append(r.Holdouts, draws...)
	return notify.Decide(*r, policy, now), draws, nil
}

// atOnce says what a customer should be told now and must not wait for the next hour.
func (a *App) atOnce(ctx context.Context, r *schedule.Recipient, now time.Time) ([]notify.Notice, error) {
	if err := a.addDropped(ctx, r, a.Day(now)); err != nil {
		return nil, err
	}
	return slices.DeleteFunc(notify.Decide(*r, a.Policy(), now), func(n notify.Notice) bool { return !n.AtOnce }), nil
}

// Tell queues for the owner of one boat what must not wait: the answer to a
// booking. What is due beside it comes with the next hour's reminders.
func (a *App) Tell(ctx context.Context, now time.Time, boatID string) (queued bool, err error) {
	st, err := outbox.Sending(ctx, a.DB)
	if err != nil || !st.On {
		return false, err
	}
	owner, err := a.OwnerOf(ctx, boatID)
	if err != nil || owner.ID == "" {
		return false, err
	}
	r, err := a.Recipient(ctx, owner.ID)
	if err != nil {
		return false, err
	}
	due, err := a.atOnce(ctx, &r, now)
	if err != nil {
		return false, err
	}
	if slices.ContainsFunc(due, func(n notify.Notice) bool { return n.Step == schedule.StepConfirmation }) {
		// One email for a day, also where its boats are booked one after the other.
		joined, err := outbox.JoinConfirmations(ctx, a.db, now, owner.ID)
		if err != nil {
			return false, err
		}
		if joined > 0 {
			if r, err = a.Recipient(ctx, owner.ID); err != nil {
				return false, err
			}
			if due, err = a.atOnce(ctx, &r, now); err != nil {
				return false, err
			}
		}
	}
	n, err := a.queue(ctx, now, due)
	return n > 0, err
}

// decideAgain tells the customers whose letters were withdrawn since a moment
// what is true now.
func (a *App) decideAgain(ctx context.Context, now, since time.Time) (queued int, err error) {
	withdrawn, err := outbox.WithdrawnSince(ctx, a.DB, since)
	if err != nil || len(withdrawn) == 0 {
		return 0, err
	}
	if _, err := a.Settle(ctx, now, a.Day(now), nil); err != nil {
		return 0, err
	}
	again, err := a.wordAgain(ctx, now, withdrawn)
	if err != nil {
		return again, err
	}
	ids := make([]string, len(withdrawn))
	for i := range withdrawn {
		ids[i] = withdrawn[i].CustomerID
	}
	var due []notify.Notice
	for _, id := range unique(ids) {
		r, err := a.Recipient(ctx, id)
		if err != nil {
			return 0, err
		}
		notices, draws, err := a.decide(ctx, &r, now)
		if err != nil {
			return 0, err
		}
		if err := outbox.SaveHoldouts(ctx, a.db, draws); err != nil {
			return 0, err
		}
		due = append(due, notices...)
	}
	queued, err = a.queue(ctx, now, due)
	return again + queued, err
}

// settingSince names the setting that holds the day on which sending was
// switched on.
const settingSince = "sending-since"

// SwitchSending switches mail on or off. The ramp starts on the day it is
// switched on.
func (a *App) SwitchSending(ctx context.Context, now time.Time, actor string, on bool) error {
	if on {
		if a.renderer == nil {
			return ErrNoSender
		}
		if err := a.db.SetSetting(ctx, settingSince, []byte(a.Day(now).String())); err != nil {
			return err
		}
	}
	return outbox.SetSending(ctx, a.db, now, actor, on)
}

// Day is the civil day of an instant by the shop's clock.
func (a *App) Day(t time.Time) civil.Day { return civil.FromTime(t.In(a.Config.Zone())) }

// room is how many more reminders may be queued today.
func (a *App) room(ctx context.Context, now time.Time) (int, error) {
	today := a.Day(now)
	begun, err := a.sendingSince(ctx, now)
	if err != nil {
		return 0, err
	}
	taken, err := outbox.RemindersQueuedSince(ctx, a.DB, today.At(0, 0, a.Config.Zone()), now)
	return notify.Ramp(a.Policy(), int(today-begun), taken), err
}

// sendingSince is the day on which sending was switched on, today if it is not
// known.
func (a *App) sendingSince(ctx context.Context, now time.Time) (civil.Day, error) {
	since, err := a.DB.Setting(ctx, settingSince)
	if isNotFound(err) || err == nil && len(since) == 0 {
		return a.Day(now), nil
	}
	if err != nil {
		return 0, err
	}
	begun, err := civil.Parse(string(since))
	if today := a.Day(now); err == nil && begun > today {
		// Written while the clock was ahead: the ramp would wait for that day.
		begun, err = today, a.db.SetSetting(ctx, settingSince, []byte(today.String()))
	}
	return begun, wrap("the day on which sending was switched on", err)
}

// queue renders the notices that there is room for today and puts them into
// the outbox together with what their customers have then been sent.
func (a *App) queue(ctx context.Context, now time.Time, due []notify.Notice) (int, error) {
	if len(due) == 0 {
		return 0, nil
	}
	room, err := a.room(ctx, now)
	if err != nil {
		return 0, err
	}
	queued := 0
	var letters []outbox.NewMessage
	put := func() error {
		for part := range slices.Chunk(letters, Batch) {
			k, err := a.enqueue(ctx, now, part)
			queued += k
			if err != nil {
				return err
			}
		}
		letters = nil
		return nil
	}
	for _, n := range notify.Choose(due, room) {
		if _, err := notify.CheckMailAddress(n.Customer.Email); err != nil {
			continue // the phone round names the customer
		}
		told, err := a.invite(ctx, now, &n)
		if err != nil {
			return 0, err
		}
		l, err := a.newMessage(ctx, &n, told)
		if err != nil {
			return 0, err
		}
		letters = append(letters, l)
		if told != nil {
			// The next email to this customer goes by what the calendar then holds.
			if err := put(); err != nil {
				return queued, err
			}
		}
	}
	return queued, put()
}

// replicated is how long a letter waits where a second machine may take over: until the
// copy that it takes over has it. What went out before the copy knew of it would be
// decided, and sent, once more. A replica is usually a second behind; without the
// storage that it lies in there is no lease after 20.
const replicated = 10 * time.Second

// enqueue puts letters into the outbox; see [outbox.Enqueue].
func (a *App) enqueue(ctx context.Context, now time.Time, letters []outbox.NewMessage) (int, error) {
	if a.Config.Lease.Object != "" {
		for i := range letters {
			if l := &letters[i].Message; l.NextAt.Before(now.Add(replicated)) {
				l.NextAt = now.Add(replicated)
			}
		}
	}
	return outbox.Enqueue(ctx, a.db, now, letters)
}

// newMessage renders a notice with what it tells a calendar, nil for nothing.
func (a *App) newMessage(ctx context.Context, n *notify.Notice, told *schedule.Invitation) (outbox.NewMessage, error) {
	l, err := a.Message(ctx, n)
	return outbox.NewMessage{Message: l, Notified: n.Notified, Invitation: told}, err
}

// Message renders a notice.
func (a *App) Message(ctx context.Context, n *notify.Notice) (schedule.Message, error) {
	if a.renderer == nil {
		return schedule.Message{}, ErrNoSender
	}
	links, err := a.links(ctx, n.Customer.ID)
	if err != nil {
		return schedule.Message{}, err
	}
	if n.Step == schedule.StepConfirmation && n.Invitation == nil && len(n.Visits) > 0 && a.Config.Appointment() == config.AppointmentFile {
		links.File = links.My + "/appointment/" + url.PathEscape(n.Visits[0].Visit.Visit.ID) + ".ics"
	}
	return a.renderer.Message(n, links)
}

// Report renders an email to the shop's own people.
func (a *App) Report(x *message.Report) (schedule.Message, error) {
	if a.renderer == nil {
		return schedule.Message{}, ErrNoSender
	}
	return a.renderer.Report(x)
}

// Preview shows a notice as the desk reads it.
func (a *App) Preview(ctx context.Context, n *notify.Notice) (string, error) {
	if a.renderer == nil {
		return "", ErrNoSender
	}
	links, err := a.links(ctx, n.Customer.ID)
	return a.renderer.Preview(n, links), err
}

// Bodies are a notice's text and HTML as they would go out.
func (a *App) Bodies(ctx context.Context, n *notify.Notice) (text, html string, err error) {
	if a.renderer == nil {
		return "", "", ErrNoSender
	}
	links, err := a.links(ctx, n.Customer.ID)
	if err != nil {
		return "", "", err
	}
	return a.renderer.Bodies(n, links)
}

func (a *App) links(ctx context.Context, customerID string) (message.Links, error) {
	my, err := a.MyURL(ctx, customerID)
	if err != nil {
		return message.Links{}, err
	}
	stop, err := a.StopURL(ctx, customerID)
	if err != nil {
		return message.Links{}, err
	}
	return message.Links{My: my, Stop: stop, StopMail: a.stopMail(path.Base(stop)), Calendar: my + "/calendar"}, nil
}

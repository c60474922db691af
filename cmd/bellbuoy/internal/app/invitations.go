package app

import (
	"cmp"
	"context"
	"maps"
	"net/mail"
	"slices"
	"strings"
	"sync"
	"time"

	"github.com/google/uuid"

	"bellbuoy/cmd/bellbuoy/internal/config"
	"bellbuoy/notify"
	"bellbuoy/notify/feed"
	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/store"
	"bellbuoy/store/outbox"
)

// followsFor is for how many days after its last fetch a calendar counts as
// followed: its reader has the visit in it and needs no invitation.
const followsFor = 30

// bringIn is how long bringing a boat in takes, by the calendar.
const bringIn = 30 * time.Minute

// invite gives a notice about booked visits the calendar object that goes with it,
// and returns what the reader's calendar then holds; nil for none. Once a calendar
// holds an appointment every later move and cancellation goes to it, whatever the
// settings say by then. A letter carries one object; what else has changed goes with the
// next.
func (a *App) invite(ctx context.Context, now time.Time, n *notify.Notice) (*schedule.Invitation, error) {
	switch n.Step {
	case schedule.StepConfirmation, schedule.StepBooked, schedule.StepCancellation, schedule.StepPassedOn, schedule.StepNewAddress:
	default:
		return nil, nil
	}
	if a.renderer == nil {
		return nil, nil
	}
	told, err := outbox.Invitations(ctx, a.DB, n.Customer.ID)
	if err != nil {
		return nil, err
	}
	told = slices.DeleteFunc(told, func(v schedule.Invitation) bool {
		return v.Day < a.Day(now) || !strings.EqualFold(v.Address, n.Customer.Email)
	})
	r, err := a.Recipient(ctx, n.Customer.ID)
	if err != nil {
		return nil, err
	}
	next, ok := nextInvitation(told, a.dropOffs(&r), daysOf(n))
	if !ok {
		return nil, nil
	}
	if next.UID == "" {
		if wanted, err := a.wantsInvitation(ctx, now, &r); err != nil || !wanted {
			return nil, err
		}
		next.UID = uuid.NewSHA1(invitationSpace, []byte(a.Config.Host()+"\x00"+n.Key+"\x00"+now.UTC().Format(time.RFC3339))).String()
		next.CustomerID, next.Address = n.Customer.ID, n.Customer.Email
	}
	next.Stamp = stampAfter(next.Stamp, now)
	n.Invitation, err = a.calendarOf(ctx, next, &r)
	return &next, err
}

// stampAfter is when an appointment was told again: now, but after the time before.
func stampAfter(last, now time.Time) time.Time {
	if last = last.Add(time.Second); now.After(last) {
		return now.UTC().Truncate(time.Second)
	}
	return last
}

// followAddress takes the appointments of a customer out of the calendar of an address
// that is no longer theirs, and puts them into that of the new one.
func (a *App) followAddress(ctx context.Context, now time.Time, customerID string) error {
	st, err := outbox.Sending(ctx, a.DB)
	if err != nil || !st.On || a.renderer == nil {
		return err
	}
	told, err := outbox.Invitations(ctx, a.DB, customerID)
	if err != nil || len(told) == 0 {
		return err
	}
	r, err := a.Recipient(ctx, customerID)
	if err != nil {
		return err
	}
	for _, v := range told {
		if v.Address == "" || v.Day < a.Day(now) || strings.EqualFold(v.Address, r.Customer.Email) {
			continue
		}
		n := notify.OldAddress(r, v, a.Policy(), now)
		v.Cancelled, v.Sequence, v.Stamp = true, v.Sequence+1, stampAfter(v.Stamp, now)
		if n.Invitation, err = a.calendarOf(ctx, v, &r); err != nil {
			return err
		}
		letters := make([]outbox.NewMessage, 1, 2)
		if letters[0], err = a.newMessage(ctx, &n, &v); err != nil {
			return err
		}
		if n, ok := notify.NewAddress(r, v, a.Policy(), now); ok {
			next, err := a.invite(ctx, now, &n)
			if err != nil {
				return err
			}
			if next != nil {
				l, err := a.newMessage(ctx, &n, next)
				if err != nil {
					return err
				}
				letters = append(letters, l)
			}
		}
		// Both or neither: who is stopped in between has not lost the appointment.
		if _, err := a.enqueue(ctx, now, letters); err != nil {
			return err
		}
	}
	return nil
}

// followAddresses does so for everybody whose address changed: files and merges
// change some too.
func (a *App) followAddresses(ctx context.Context, now time.Time) error {
	ids, err := outbox.InvitedElsewhere(ctx, a.DB, a.Day(now))
	for _, id := range ids {
		if err := a.followAddress(ctx, now, id); err != nil {
			return err
		}
	}
	return err
}

// invitationSpace is the root of the UIDs of invitations (RFC 9562, 5.5).
var invitationSpace = uuid.MustParse("2c1f6a1d-6f6e-4a0c-9d5a-0b8f7a3c41e6")

// daysOf are the days that a notice is about: the booked one first, then the one
// that no longer holds.
func daysOf(n *notify.Notice) []civil.Day {
	var days []civil.Day
	for i := range n.Visits {
		v := &n.Visits[i]
		if b := v.Visit.Visit.Booking; b != nil {
			days = append(days, b.Day)
		}
	}
	for i := range n.Visits {
		if d := n.Visits[i].Was.Day; d != 0 {
			days = append(days, d)
		}
	}
	return days
}

// dropOffs are the days on which a customer brings boats in, each as the
// appointment that it should be: from the first hour to the last, or the shop's
// drop-off times for boats without one. A boat that is here is not brought in.
func (a *App) dropOffs(r *schedule.Recipient) map[civil.Day]schedule.Invitation {
	zone := a.Config.Zone()
	from, until := a.Config.DropOff.Window()
	days := map[civil.Day]schedule.Invitation{}
	for i := range r.Boats {
		b := &r.Boats[i]
		if strings.HasPrefix(b.Boat.Berth, "shop-") || b.Boat.Gone != 0 {
			continue
		}
		for j := range b.Visits {
			v := &b.Visits[j].Visit
			if v.Booking == nil || v.Booking.Minute < 0 && from == until {
				continue
			}
			start, end := v.Booking.Day.At(from/60, from%60, zone), v.Booking.Day.At(until/60, until%60, zone)
			if m := v.Booking.Minute; m >= 0 {
				start = v.Booking.Day.At(m/60, m%60, zone)
				end = start.Add(bringIn)
			}
			d, ok := days[v.Booking.Day]
			if !ok || start.Before(d.Start) {
				d.Start = start
			}
			if end.After(d.End) {
				d.End = end
			}
			d.Day, d.Visits = v.Booking.Day, append(d.Visits, v.ID)
			days[v.Booking.Day] = d
		}
	}
	for day, d := range days {
		slices.Sort(d.Visits)
		days[day] = d
	}
	return days
}

// nextInvitation compares what a calendar holds with what it should, and returns
// the one change that a letter about some days carries: first that an appointment is
// off, then what is new on those days. An appointment whose visits have another day
// moves there and stays the same one; one that was cancelled never comes back.
func nextInvitation(told []schedule.Invitation, should map[civil.Day]schedule.Invitation, about []civil.Day) (schedule.Invitation, bool) {
	free := maps.Clone(should) // days that no appointment is on yet
	for _, t := range told {
		delete(free, t.Day)
	}
	var changes []schedule.Invitation
	for _, t := range told {
		d, stays := should[t.Day]
		if !stays {
			// Where have its visits gone?
			for _, day := range slices.Sorted(maps.Keys(free)) {
				if slices.ContainsFunc(free[day].Visits, func(id string) bool { return slices.Contains(t.Visits, id) }) {
					d, stays = free[day], true
					delete(free, day)
					break
				}
			}
		}
		switch {
		case !stays:
			t.Cancelled, t.Sequence = true, t.Sequence+1
			changes = append(changes, t)
		case !d.Start.Equal(t.Start) || !d.End.Equal(t.End):
			t.Day, t.Start, t.End, t.Visits, t.Sequence = d.Day, d.Start, d.End, d.Visits, t.Sequence+1
			changes = append(changes, t)
		case !slices.Equal(d.Visits, t.Visits):
			t.Visits = d.Visits
			changes = append(changes, t)
		}
	}
	for _, day := range about {
		if d, ok := free[day]; ok {
			changes = append(changes, d)
			delete(free, day)
		}
	}
	if len(changes) == 0 {
		return schedule.Invitation{}, false
	}
	rank := func(v schedule.Invitation) int {
		switch {
		case v.Cancelled:
			return 0
		case slices.Contains(about, v.Day):
			return 1
		}
		return 2
	}
	return slices.MinFunc(changes, func(a, b schedule.Invitation) int { return cmp.Or(rank(a)-rank(b), cmp.Compare(a.Day, b.Day)) }), true
}

// wantsInvitation reports whether a customer gets invitations: by the settings,
// and if no calendar that holds the visit was fetched lately.
func (a *App) wantsInvitation(ctx context.Context, now time.Time, r *schedule.Recipient) (bool, error) {
	if a.Config.Appointment() != config.AppointmentInvitation {
		return false, nil
	}
	follows, err := a.followsCalendar(ctx, now, r)
	return !follows, err
}

func (a *App) followsCalendar(ctx context.Context, now time.Time, r *schedule.Recipient) (bool, error) {
	boats := make([]string, len(r.Boats))
	for i := range r.Boats {
		boats[i] = r.Boats[i].Boat.ID
	}
	last, err := outbox.LastFetch(ctx, a.DB, r.Customer.ID, boats)
	return last != 0 && a.Day(now)-last <= followsFor, err
}

// calendarOf writes an appointment as a calendar object.
func (a *App) calendarOf(ctx context.Context, v schedule.Invitation, r *schedule.Recipient) (*notify.Invitation, error) {
	method := feed.Request
	if v.Cancelled {
		method = feed.Cancel
	}
	e, err := a.appointment(ctx, v, r)
	if err != nil {
		return nil, err
	}
	if !strings.EqualFold(v.Address, r.Customer.Email) { // who reads it there is not known
		e.URL, e.Description = "", ""
	}
	e.Method, e.Attendee = method, mail.Address{Name: r.Customer.Name, Address: v.Address}
	body, err := e.Render()
	return &notify.Invitation{Method: string(method), Calendar: body}, err
}

// appointment words a drop-off: which boats, for what, where, and how to change it.
func (a *App) appointment(ctx context.Context, v schedule.Invitation, r *schedule.Recipient) (feed.Invitation, error) {
	my, err := a.MyURL(ctx, r.Customer.ID)
	if err != nil {
		return feed.Invitation{}, err
	}
	from, err := mail.ParseAddress(a.Config.Mail.From)
	if err != nil {
		return feed.Invitation{}, err
	}
	t := a.Planner.Settings().Texts.In(a.Language(&r.Customer))
	var names, lines []string
	for i := range r.Boats {
		b := &r.Boats[i]
		for j := range b.Visits {
			if visit := &b.Visits[j]; slices.Contains(v.Visits, visit.Visit.ID) {
				names = append(names, b.Boat.Title())
				lines = append(lines, t.Say("work.of_boat", "boat", b.Boat.Title(), "jobs", visit.Title))
			}
		}
	}
	summary := t.Say("appointment.service", "shop", a.Config.Shop.Name)
	if len(names) > 0 {
		summary = t.Say("appointment.bring", "boats", strings.Join(names, ", "), "shop", a.Config.Shop.Name)
	}
	note := []string{t.Say("appointment.change") + "\n" + my}
	if phone := cmp.Or(a.Config.DropOff.Contact, a.Config.Shop.Phone); phone != "" {
		note = append(note, t.Say("appointment.call", "phone", phone))
	}
	return feed.Invitation{
		UID: v.UID, Sequence: v.Sequence, Stamp: v.Stamp, At: v.Start, Until: v.End,
		Summary: summary, Description: strings.Join(append(note, lines...), "\n\n"), Location: a.Config.Shop.Address, URL: my,
		Organizer: mail.Address{Name: a.Config.Shop.Name, Address: from.Address},
	}, nil
}

// AppointmentFile is the booked day of a visit as a calendar file to be added by
// hand. [store.ErrNotFound] if the visit is not the customer's, has no booked day, or
// nothing is brought in on it.
func (a *App) AppointmentFile(ctx context.Context, now time.Time, customerID, visitID string) ([]byte, error) {
	r, err := a.Recipient(ctx, customerID)
	if err != nil {
		return nil, err
	}
	for _, d := range a.dropOffs(&r) {
		if !slices.Contains(d.Visits, visitID) {
			continue
		}
		d.UID = uuid.NewSHA1(invitationSpace, []byte(a.Config.Host()+"\x00file\x00"+customerID+"\x00"+visitID)).String()
		d.Stamp = now.UTC().Truncate(time.Second)
		e, err := a.appointment(ctx, d, &r)
		if err != nil {
			return nil, err
		}
		e.Method = feed.Publish
		return e.Render()
	}
	return nil, store.ErrNotFound
}

// fetches are the feeds that calendar programs asked for and nobody has written
// down yet.
type fetches struct {
	mu   sync.Mutex
	seen map[[2]string]civil.Day
}

// NoteFetch remembers that a calendar program asked for a feed; the next turn
// writes it down, as whoever looks writes nothing.
func (a *App) NoteFetch(scope, subject string, now time.Time) {
	a.fetched.mu.Lock()
	defer a.fetched.mu.Unlock()
	if a.fetched.seen == nil {
		a.fetched.seen = map[[2]string]civil.Day{}
	}
	a.fetched.seen[[2]string{scope, subject}] = a.Day(now)
}

// writeFetches writes down which feeds were fetched.
func (a *App) writeFetches(ctx context.Context) error {
	a.fetched.mu.Lock()
	seen := a.fetched.seen
	a.fetched.seen = nil
	a.fetched.mu.Unlock()
	for f, day := range seen {
		if err := a.db.NoteFetch(ctx, f[0], f[1], day); err != nil {
			return err
		}
	}
	return nil
}

package people

import (
	"net/http"
	"slices"
	"strconv"
	"strings"
	"time"

	"bellbuoy/cmd/bellbuoy/internal/web/site"
	"bellbuoy/notify/link"
	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/words"
	"bellbuoy/store/outbox"
	"bellbuoy/store/report"
)

const (
	newest     = 20  // emails, calls and replies that are shown at first
	atMost     = 500 // and when all are
	changesFew = 12  // lines of the change history
)

// customerPage is everything about one customer.
type customerPage struct {
	Customer schedule.Customer
	Boats    []site.BoatRow
	Past     []pastBoat
	Hears    schedule.Recipient // which emails they want, and whether they arrive
	Page     string             // address of their own page
	Calendar string
	Contacts []contact // newest first
	All      bool      // every email, call and reply is shown
	Changes  []site.ChangeRow
	More     int64 // the id before which further changes are found, 0 for none
	MayEdit  bool
	Form     string
	SeenPage string // names the address that the page shows, for the form that makes a new one
}

// pastBoat is a boat that the customer had.
type pastBoat struct {
	Boat     schedule.Boat
	From, To civil.Day
}

// contact is an email, a call or a reply.
type contact struct {
	At    time.Time
	Kind  string
	Words string
	More  string // what became of it, or what was noted
	Email int64  // the email's number, 0 for a call or a reply
	Call  int64  // the call's
}

func (s pages) customer(r *http.Request) (site.Response, error) {
	ctx, id := r.Context(), r.PathValue("id")
	c, err := s.App.DB.Customer(ctx, id)
	if err != nil {
		return site.Response{}, err
	}
	who, _ := site.StaffOf(r)
	p := customerPage{Customer: c, MayEdit: who.Level() >= site.Desk, All: r.FormValue("contacts") == "all", Form: site.NewForm()}
	if p.Hears, err = s.App.Recipient(ctx, id); err != nil {
		return site.Response{}, err
	}
	if err := s.fillBoats(r, &p); err != nil {
		return site.Response{}, err
	}
	if p.MayEdit { // whoever has them can answer for the customer
		if p.Page, err = s.App.MyURL(ctx, id); err != nil {
			return site.Response{}, err
		}
		if p.Calendar, err = s.App.FeedURL(ctx, link.ScopeCustomer, id); err != nil {
			return site.Response{}, err
		}
		p.SeenPage = site.Seen(p.Page)
	}
	if err := s.fillContacts(r, &p); err != nil {
		return site.Response{}, err
	}
	before, _ := strconv.ParseInt(r.FormValue("changes"), 10, 64)
	changes, err := report.CustomerChanges(ctx, s.App.DB, id, before, changesFew+1)
	if err != nil {
		return site.Response{}, err
	}
	if p.Changes, p.More, err = s.ChangeRows(r.Context(), changes, changesFew); err != nil {
		return site.Response{}, err
	}
	return site.Response{Page: "customer.html", Data: &p}, err
}

// fillBoats reads the boats that the customer has and had.
func (s pages) fillBoats(r *http.Request, p *customerPage) error {
	owned, err := s.App.DB.OwnedBy(r.Context(), p.Customer.ID)
	if err != nil {
		return err
	}
	for _, o := range owned {
		b, err := s.App.DB.Boat(r.Context(), o.BoatID)
		if err != nil {
			return err
		}
		if o.To != 0 {
			p.Past = append(p.Past, pastBoat{b, o.From, o.To})
			continue
		}
		row, err := s.BoatRow(r, b, true)
		if err != nil {
			return err
		}
		p.Boats = append(p.Boats, row)
	}
	return nil
}

// fillContacts lists emails, calls and replies together, the newest first.
func (s pages) fillContacts(r *http.Request, p *customerPage) error {
	ctx, id, limit := r.Context(), p.Customer.ID, newest
	if p.All {
		limit = atMost
	}
	emails, err := outbox.Messages(ctx, s.App.DB, outbox.MessageQuery{CustomerID: id, Limit: limit})
	if err != nil {
		return err
	}
	for i := range emails {
		l := &emails[i]
		p.Contacts = append(p.Contacts, contact{At: l.QueuedAt, Kind: "Email", Words: l.Subject, More: stateWords(l), Email: l.ID})
	}
	calls, err := s.App.DB.CallsTo(ctx, id, limit)
	if err != nil {
		return err
	}
	for _, c := range calls {
		p.Contacts = append(p.Contacts, contact{At: c.At, Kind: "Call", Words: strings.ToLower(site.OutcomeName(c.Outcome)) + ", " + c.Actor, More: c.Note, Call: c.ID})
	}
	replies, err := s.App.DB.AnswersOf(ctx, id, limit)
	if err != nil {
		return err
	}
	for i := range replies {
		row := s.AnswerRow(&replies[i])
		said := site.Filled(row.Visit, row.Words)
		if row.Boat.ID != "" {
			said = append([]string{row.Boat.Title()}, said...)
		}
		p.Contacts = append(p.Contacts, contact{At: row.At, Kind: "Reply", Words: strings.Join(said, ": "), More: row.Note})
	}
	slices.SortStableFunc(p.Contacts, func(a, b contact) int { return b.At.Compare(a.At) })
	if len(p.Contacts) <= newest {
		p.All = true
	}
	p.Contacts = p.Contacts[:min(limit, len(p.Contacts))]
	return nil
}

// stateWords say what became of an email.
func stateWords(l *schedule.Message) string {
	said := map[schedule.MessageState]string{
		schedule.MessageQueued: "waits to be sent", schedule.MessageLeased: "is being sent", schedule.MessageSent: "sent",
		schedule.MessageUncertain: "uncertain: the mail server did not say whether it took it", schedule.MessageDeferred: "not taken yet, tried again",
		schedule.MessageRefused: "refused", schedule.MessageExpired: "too late, never sent", schedule.MessageHeld: "held",
		schedule.MessageWithdrawn: "withdrawn, never sent",
	}[l.State]
	if said == "" {
		said = string(l.State)
	}
	if l.Answer != "" && l.State != schedule.MessageSent {
		said += ": " + l.Answer
	}
	return words.UpperFirst(said) + "."
}

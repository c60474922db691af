package people

import (
	"errors"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"bellbuoy/cmd/bellbuoy/internal/web/site"
	"bellbuoy/notify/link"
	"bellbuoy/notify/message"
	"bellbuoy/schedule"
	"bellbuoy/schedule/texts"
	"bellbuoy/store"
	"bellbuoy/store/outbox"
)

// editPage changes how a customer is called and reached.
type editPage struct {
	Customer schedule.Customer
	Ways     []string
	Form     string
	Seen     string // names the customer as the form shows them
	Fault    string
}

func (s pages) editForm(r *http.Request) (site.Response, error) {
	p, err := s.editPage(r)
	return site.Response{Page: "customer-edit.html", Data: p}, err
}

func (s pages) editPage(r *http.Request) (*editPage, error) {
	c, err := s.App.DB.Customer(r.Context(), r.PathValue("id"))
	return &editPage{Customer: c, Ways: schedule.ContactWays, Form: site.NewForm(), Seen: site.Seen(c)}, err
}

func (s pages) edit(r *http.Request) (site.Response, error) {
	p, err := s.editPage(r)
	if err != nil {
		return site.Response{}, err
	}
	c, err := readCustomer(r, p.Customer)
	if err == nil && r.PostFormValue("seen") != p.Seen {
		err = store.ErrStale
	}
	if err == nil {
		_, err = s.App.ChangeCustomer(r.Context(), s.Now(), site.Actor(r), r.PostFormValue("form"), p.Customer, c)
	}
	if errors.Is(err, store.ErrStale) {
		err = site.Correct("Meanwhile somebody changed " + p.Customer.Name + ": " + onFile(&p.Customer) + " What you typed is below. Save it to put it in place of that.")
	}
	if why, ok := site.Refused(err); ok {
		p.Fault = why.Words()
		return site.Response{Page: "customer-edit.html", Data: p, Refused: why}, nil
	}
	if err != nil {
		return site.Response{}, err
	}
	return site.Response{To: "/customers/" + url.PathEscape(c.ID), Note: "Saved."}, nil
}

// onFile says what is on file of a customer now.
func onFile(c *schedule.Customer) string {
	return "on file are " + strings.Join(site.Filled(c.Name, c.Phone, c.Email, c.Address, c.City, c.Region, c.PostalCode, "contact by "+c.ContactBy, texts.EnglishName(c.Language)), ", ") + "."
}

// readCustomer reads the form over what is on file.
func readCustomer(r *http.Request, was schedule.Customer) (schedule.Customer, error) {
	c := was
	for field, to := range map[string]*string{
		"name": &c.Name, "phone": &c.Phone, "email": &c.Email, "address": &c.Address, "city": &c.City, "region": &c.Region,
		"postal_code": &c.PostalCode, "contact_by": &c.ContactBy, "language": &c.Language,
	} {
		*to = site.Typed(r, field)
	}
	var wrong site.Refusals
	if c.Name == "" {
		wrong.Add(site.At("name", "A customer needs a name."))
	}
	if c.Email != "" {
		address, err := store.CheckAddress(c.Email)
		if err != nil {
			wrong.Add(site.At("email", "Email: "+err.Error()+"."))
		}
		c.Email = address
	}
	if c.Language != "" && !slices.Contains(texts.Languages(), c.Language) {
		wrong.Add(site.At("language", "Choose the customer's language."))
	}
	switch {
	case !slices.Contains(schedule.ContactWays, c.ContactBy):
		wrong.Add(site.At("contact_by", "Choose how the customer is reached."))
	case c.ContactBy == "email" && site.Typed(r, "email") == "":
		wrong.Add(site.At("email", "To be reached by email a customer needs an address."))
	case c.ContactBy == "phone" && c.Phone == "":
		wrong.Add(site.At("phone", "To be reached by phone a customer needs a number."))
	}
	if wrong != nil {
		return c, wrong
	}
	return c, nil
}

// chooseMails takes what the customer said about emails.
func (s pages) chooseMails(r *http.Request) (site.Response, error) {
	id := r.PathValue("id")
	was, err := s.App.Recipient(r.Context(), id)
	if err != nil {
		return site.Response{}, err
	}
	var noReminders, noMail bool
	note := "Reminders and emails about booked visits go out again."
	switch r.PostFormValue("mails") {
	case "all":
	case "booked":
		noReminders, note = true, "No more reminders; emails about booked visits still go out."
	case "none":
		noReminders, noMail, note = true, true, "No more emails."
	default:
		return site.Response{}, site.NewProblem(http.StatusBadRequest, "Choose which emails the customer gets, then save.")
	}
	if noReminders != was.NoReminders || noMail != was.NoMail {
		err = s.App.ChooseMails(r.Context(), s.Now(), site.Actor(r), id, noReminders, noMail)
	}
	return site.Response{To: "/customers/" + url.PathEscape(id) + "#emails", Note: note}, err
}

// addressWorks takes the desk's word that the customer's address works again.
func (s pages) addressWorks(r *http.Request) (site.Response, error) {
	c, err := s.App.DB.Customer(r.Context(), r.PathValue("id"))
	if err != nil {
		return site.Response{}, err
	}
	err = s.App.Unsuppress(r.Context(), s.Now(), site.Actor(r), c.Email)
	if errors.Is(err, store.ErrNotFound) { // pressed twice
		err = nil
	}
	return site.Response{To: "/customers/" + url.PathEscape(c.ID) + "#emails", Note: "Emails go to " + c.Email + " again."}, err
}

// sendOrRenewLink emails the customer the address of their page, or makes a new
// one.
func (s pages) sendOrRenewLink(r *http.Request) (site.Response, error) {
	ctx, id := r.Context(), r.PathValue("id")
	if _, err := s.App.DB.Customer(ctx, id); err != nil {
		return site.Response{}, err
	}
	a := site.Response{To: "/customers/" + url.PathEscape(id) + "#page"}
	switch r.PostFormValue("do") {
	case "send":
		queued, err := s.App.SendPage(ctx, s.Now(), id)
		a.Note = "The email with the link is on its way."
		if !queued {
			a.Note = "No email was queued: one went out today already, email is switched off, or the customer has no boat, no address that works, or wants none."
		}
		return a, err
	case "new":
		page, err := s.App.MyURL(ctx, id)
		if err != nil {
			return a, err
		}
		a.Note = "The old links to the page and the calendar no longer work. Give the customer the new ones."
		if r.PostFormValue("seen") != site.Seen(page) { // pressed twice
			return a, nil
		}
		return a, s.App.RevokeFeed(ctx, s.Now(), site.Actor(r), link.ScopeCustomer, id)
	}
	return a, site.NewProblem(http.StatusBadRequest, "The form lacks what is to be done. Press one of its buttons.")
}

// emailPage is one email as its customer got it.
type emailPage struct {
	Message  schedule.Message
	Customer schedule.Customer // without an id for one to the shop itself
	State    string
	Text     string
}

func (s pages) email(r *http.Request) (site.Response, error) {
	n, err := strconv.ParseInt(r.PathValue("n"), 10, 64)
	if err != nil {
		return site.Response{}, site.NotFound("There is no email of that number.")
	}
	p := emailPage{}
	if p.Message, err = outbox.Message(r.Context(), s.App.DB, n); err != nil {
		return site.Response{}, err
	}
	if p.Message.CustomerID != "" {
		if p.Customer, err = s.App.DB.Customer(r.Context(), p.Message.CustomerID); err != nil {
			return site.Response{}, err
		}
	}
	p.State = stateWords(&p.Message)
	if p.Text, err = message.PlainText(p.Message.Raw); err != nil {
		p.Text = "" // the page says so
	}
	return site.Response{Page: "sent-email.html", Data: &p}, nil
}

package customer

import (
	"errors"
	"html/template"
	"net/http"
	"net/url"
	"strings"

	"bellbuoy/cmd/bellbuoy/internal/web/site"
	"bellbuoy/notify/link"
	"bellbuoy/store"
)

// calendarPage explains how a customer subscribes to the calendar.
type calendarPage struct {
	guest
	Feed string // https address, to be copied
	// Webcal is the same for programs that take over such links. Templates know
	// only the schemes of the web and blot out any other that is not marked.
	Webcal  template.URL
	Renewed bool // the addresses were just exchanged
}

// myCalendar shows the customer's calendar address and what to do with it.
func (s pages) myCalendar(r *http.Request, g guest) (site.Response, error) {
	feed, err := s.App.FeedURL(r.Context(), link.ScopeCustomer, g.Customer.ID)
	if err != nil {
		return site.Response{}, err
	}
	return site.Response{Page: "my-calendar.html", Data: calendarPage{
		guest: g, Feed: feed, Webcal: webcal(feed), Renewed: r.FormValue("renewed") != "",
	}}, nil
}

// webcal is the address with the scheme that phones and desktops hand to their
// calendar program. It is no standard, and programs fetch it by https or http.
func webcal(address string) template.URL {
	_, rest, _ := strings.Cut(address, "://")
	return template.URL("webcal://" + rest)
}

// renewCalendar exchanges the customer's addresses for new ones. The old ones
// open nothing from now on, so the answer leads to the new page.
func (s pages) renewCalendar(r *http.Request, g guest) (site.Response, error) {
	if err := s.App.RevokeFeed(r.Context(), s.Now(), "customer", link.ScopeCustomer, g.Customer.ID); err != nil {
		return site.Response{}, err
	}
	token, err := s.App.MyURL(r.Context(), g.Customer.ID)
	if err != nil {
		return site.Response{}, err
	}
	u, err := url.Parse(token)
	if err != nil {
		return site.Response{}, err
	}
	return site.Response{To: u.Path + "/calendar?" + url.Values{"renewed": {"1"}}.Encode()}, nil
}

// appointmentFile is a booked day as a calendar file, to be added by hand.
func (s pages) appointmentFile(w http.ResponseWriter, r *http.Request) {
	visit, ics := strings.CutSuffix(r.PathValue("visit"), ".ics")
	customer, code, err := s.holder(r, link.PurposeMy)
	s, _ = s.speaking(r, customer)
	if code == http.StatusOK && !ics {
		code = http.StatusNotFound
	}
	if err == nil && code != http.StatusOK {
		http.Error(w, s.Say("page_gone.no_file"), code)
		return
	}
	var body []byte
	if err == nil {
		body, err = s.App.AppointmentFile(r.Context(), s.Now(), customer.ID, visit)
	}
	switch {
	case errors.Is(err, store.ErrNotFound):
		http.Error(w, s.Say("page_gone.not_booked"), http.StatusNotFound)
	case err != nil:
		s.Fail(w, r, err)
	default:
		w.Header().Set("Content-Type", "text/calendar; method=PUBLISH; charset=utf-8")
		w.Header().Set("Cache-Control", "private, no-store")
		w.Write(body)
	}
}

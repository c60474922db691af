package customer

import (
	"errors"
	"net/http"
	"net/url"
	"slices"
	"strings"

	"bellbuoy/cmd/bellbuoy/internal/web/site"
	"bellbuoy/notify/link"
	"bellbuoy/schedule"
	"bellbuoy/schedule/texts"
	"bellbuoy/schedule/words"
	"bellbuoy/store"
)

// guest is a customer on their own pages.
type guest struct {
	Customer schedule.Customer
	Base     string // where their pages begin: "/my/TOKEN"
	Lang     string // the language of this view, if it is not the customer's own
	Phone    string // the shop's, "" if it names none
	Address  string // the shop's
	// Languages are those that the customer may be written to in, nil where nobody
	// reads another than the shop's.
	Languages []site.Other
	Language  string // the one in which they are written to now
}

// At is an address below theirs, in the language of this view.
func (g guest) At(path string) string { return inLanguage(g.Base+path, g.Lang) }

// inLanguage adds the language of a view to an address of our own.
func inLanguage(address, lang string) string {
	switch {
	case lang == "":
		return address
	case strings.Contains(address, "?"):
		return address + "&lang=" + lang
	}
	return address + "?lang=" + lang
}

// guestHandler answers one of the customers' routes, in their language.
type guestHandler func(s pages, r *http.Request, g guest) (site.Response, error)

// guests opens a customer's page to whoever has its address. Anybody else reads
// in plain words what is wrong with the link and whom to ring.
func (s pages) guests(h guestHandler) site.Handler {
	return func(r *http.Request) (site.Response, error) {
		customer, code, err := s.holder(r, link.PurposeMy)
		s, lang := s.speaking(r, customer)
		if err != nil {
			return s.spoken(r, customer, site.Response{}, lang), err
		}
		if code != http.StatusOK {
			a, err := s.stale(r, customer, code)
			return s.spoken(r, customer, a, lang), err
		}
		a, err := h(s, r, guest{
			Customer: customer, Base: "/my/" + r.PathValue("token"), Lang: lang,
			Phone: s.App.Config.Shop.Phone, Address: s.App.Config.Shop.Address, Languages: s.languages(customer, lang),
			Language: s.App.Language(&customer),
		})
		return s.spoken(r, customer, a, lang), err
	}
}

// speaking are the pages in a customer's language, or in the one that the address
// asks for; lang is that one if it is another. Somebody of whom nothing is known is
// spoken to in the shop's.
func (s pages) speaking(r *http.Request, c schedule.Customer) (in pages, lang string) {
	language := s.App.Language(&c)
	if asked := r.URL.Query().Get("lang"); asked != language && slices.Contains(texts.Languages(), asked) {
		language, lang = asked, asked
	}
	return pages{s.In(language)}, lang
}

// spoken completes an answer in the language that it is in: pages lead on in the
// language of the view, and name the others where they can be opened.
func (s pages) spoken(r *http.Request, c schedule.Customer, a site.Response, lang string) site.Response {
	a.Language = s.Language()
	if a.To != "" {
		a.To = inLanguage(a.To, lang)
		return a
	}
	if r.Method != http.MethodGet {
		return a
	}
	for _, other := range s.languages(c, lang) {
		if other.Tag == s.Language() {
			continue
		}
		query := r.URL.Query()
		query.Set("lang", other.Tag)
		if other.Tag == s.App.Language(&c) {
			query.Del("lang")
		}
		u := url.URL{Path: r.URL.Path, RawQuery: query.Encode()}
		other.URL = u.String()
		a.Languages = append(a.Languages, other)
	}
	return a
}

// languages are those that a customer may choose from, none where nobody reads another
// than English. lang is the one that the address asks for.
func (s pages) languages(c schedule.Customer, lang string) (all []site.Other) {
	if s.App.Language(&c) == words.English && lang == "" && s.App.Config.Shop.Country != "CA" {
		return nil
	}
	for _, language := range texts.Languages() {
		all = append(all, site.Other{Tag: language, Name: words.UpperFirst(s.In(language).Say("language.own"))})
	}
	return all
}

// holder finds the customer whom an address belongs to: 404 for an address that
// is none, 410 for one that was withdrawn; [site.ErrElsewhere] for a form that this
// machine must not take.
func (s pages) holder(r *http.Request, p link.Purpose) (schedule.Customer, int, error) {
	none := schedule.Customer{}
	to, ours := s.App.Addresses().Parse(p, r.PathValue("token"))
	if !ours || to.Scope != link.ScopeCustomer {
		return none, http.StatusNotFound, nil
	}
	st, err := s.App.DB.FeedState(r.Context(), store.FeedCustomer, to.Subject)
	if errors.Is(err, store.ErrNotFound) {
		return none, http.StatusNotFound, nil
	}
	if err != nil {
		return none, 0, err
	}
	code := http.StatusOK
	switch to.Status(st.Generation) {
	case link.Revoked:
		code = http.StatusGone
	case link.Unknown:
		return none, http.StatusNotFound, nil
	}
	c, err := s.App.DB.Customer(r.Context(), to.Subject)
	if err == nil {
		err = s.Takes(r)
	}
	return c, code, err
}

// stalePage says kindly that a link leads nowhere any more.
type stalePage struct {
	Title, Words string
	Phone, Back  string // Back is the customer's page, "" if the link does not open it
}

// stale answers a link that opens nothing: where the new one went, or whom to ask.
func (s pages) stale(r *http.Request, customer schedule.Customer, code int) (site.Response, error) {
	p := stalePage{Phone: s.App.Config.Shop.Phone, Title: s.Say("page_gone.no_link")}
	p.Words = s.Say("page_gone.no_link_why")
	if code == http.StatusGone {
		p.Title, p.Words = s.Say("page_gone.replaced"), s.Say("page_gone.replaced_call")
		sent, err := s.App.NewLinkSent(r.Context(), customer.ID)
		if err != nil {
			return site.Response{}, err
		}
		if sent != 0 {
			p.Words = s.Say("page_gone.replaced_sent", "date", s.Format().Date(sent))
		}
	}
	return site.Response{Page: "my-stale.html", Data: p, Code: code}, nil
}

// staleVisit is for a visit that has left the plan since the link was sent.
func (s pages) staleVisit(g guest) site.Response {
	return site.Response{Page: "my-stale.html", Code: http.StatusNotFound, Data: stalePage{
		Title: s.Say("page_gone.visit"),
		Words: s.Say("page_gone.visit_why"),
		Phone: g.Phone, Back: g.At(""),
	}}
}

// recipient is what is known of the customer, with their boats in words of the view's
// language.
func (s pages) recipient(r *http.Request, g guest) (schedule.Recipient, error) {
	rec, err := s.App.Recipient(r.Context(), g.Customer.ID)
	if err != nil || g.Lang == "" {
		return rec, err // in the customer's own
	}
	for i := range rec.Boats {
		v, err := s.App.ViewIn(r.Context(), rec.Boats[i].Boat.ID, g.Lang)
		if err != nil {
			return rec, err
		}
		rec.Boats[i] = v.ForOwner()
	}
	return rec, nil
}

// boatOf returns a boat of the customer's; [store.ErrNotFound] for any other, and for one
// that they no longer have by their own word.
func (s pages) boatOf(r *http.Request, g guest, id string) (schedule.Boat, error) {
	sold, err := s.App.DB.SoldBoat(r.Context(), id)
	if err != nil {
		return schedule.Boat{}, err
	}
	if sold {
		return schedule.Boat{}, store.ErrNotFound
	}
	boats, err := s.App.DB.BoatsOf(r.Context(), g.Customer.ID)
	if err != nil {
		return schedule.Boat{}, err
	}
	for _, b := range boats {
		if b.ID == id {
			return b, nil
		}
	}
	return schedule.Boat{}, store.ErrNotFound
}

package customer

import (
	"errors"
	"net/http"

	"bellbuoy/cmd/bellbuoy/internal/web/site"
	"bellbuoy/notify/link"
	"bellbuoy/schedule"
	"bellbuoy/store"
)

// guest is a customer on their own pages.
type guest struct {
	Customer schedule.Customer
	Base     string // where their pages begin: "/my/TOKEN"
	Phone    string // the shop's, "" if it names none
	Address  string // the shop's
}

// guestHandler answers one of the customers' routes.
type guestHandler func(r *http.Request, g guest) (site.Response, error)

// guests opens a customer's page to whoever has its address. Anybody else reads
// in plain words what is wrong with the link and whom to ring.
func (s pages) guests(h guestHandler) site.Handler {
	return func(r *http.Request) (site.Response, error) {
		customer, code, err := s.holder(r, link.PurposeMy)
		if err != nil {
			return site.Response{}, err
		}
		if code != http.StatusOK {
			return s.stale(r, customer, code)
		}
		return h(r, guest{
			Customer: customer, Base: "/my/" + r.PathValue("token"),
			Phone: s.App.Config.Shop.Phone, Address: s.App.Config.Shop.Address,
		})
	}
}

// holder finds the customer whom an address belongs to: 404 for an address that
// is none, 410 for one that was withdrawn.
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
	return c, code, err
}

// stalePage says kindly that a link leads nowhere any more.
type stalePage struct {
	Title, Words string
	Phone, Back  string // Back is the customer's page, "" if the link does not open it
}

// stale answers a link that opens nothing: where the new one went, or whom to ask.
func (s pages) stale(r *http.Request, customer schedule.Customer, code int) (site.Response, error) {
	p := stalePage{Phone: s.App.Config.Shop.Phone, Title: "This link does not work"}
	p.Words = "Perhaps a part of it was lost on the way. Please use the link in one of our newer emails, whole and unchanged."
	if code == http.StatusGone {
		p.Title, p.Words = "This link has been replaced", "Please call us for the new one."
		sent, err := s.App.NewLinkSent(r.Context(), customer.ID)
		if err != nil {
			return site.Response{}, err
		}
		if sent != 0 {
			p.Words = "We emailed the new one on " + s.Format().Date(sent) + " to the address that we have on file. If it has not come, please call us."
		}
	}
	return site.Response{Page: "my-stale.html", Data: p, Code: code}, nil
}

// staleVisit is for a visit that has left the plan since the link was sent.
func (s pages) staleVisit(g guest) site.Response {
	return site.Response{Page: "my-stale.html", Code: http.StatusNotFound, Data: stalePage{
		Title: "This visit is no longer planned",
		Words: "It has been done, joined with another, or the boat has a new owner. Your page shows what comes next.",
		Phone: g.Phone, Back: g.Base,
	}}
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

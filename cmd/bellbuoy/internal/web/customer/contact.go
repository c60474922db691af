package customer

import (
	"errors"
	"net/http"
	"slices"

	"bellbuoy/cmd/bellbuoy/internal/web/site"
	"bellbuoy/notify"
	"bellbuoy/schedule/texts"
	"bellbuoy/schedule/words"
	"bellbuoy/store"
)

// changeContact changes the email address and the number at which the customer is
// reached, and the language in which. The desk sees both in the change history.
func (s pages) changeContact(r *http.Request, g guest) (site.Response, error) {
	c := g.Customer
	c.Email, c.Phone = words.OneLine(r.PostFormValue("email")), words.OneLine(r.PostFormValue("phone"))
	if c.Email != "" {
		address, err := notify.CheckMailAddress(c.Email)
		if err != nil {
			return s.refuseMy(r, g, site.At("email", s.Say("page_wrong.email")))
		}
		c.Email = address
	}
	if c.Email == "" && c.Phone == "" {
		return s.refuseMy(r, g, site.At("email", s.Say("page_wrong.neither")))
	}
	if language := r.PostFormValue("language"); language != g.Language && slices.Contains(texts.Languages(), language) {
		c.Language = language
	}
	if r.PostFormValue("seen") != site.Seen(g.Customer) {
		return s.refuseMy(r, g, site.At("email", s.Say("page_wrong.changed")))
	}
	_, err := s.App.ChangeCustomer(r.Context(), s.Now(), "customer", r.PostFormValue("form"), g.Customer, c)
	if errors.Is(err, store.ErrStale) {
		return s.refuseMy(r, g, site.At("email", s.Say("page_wrong.changed")))
	}
	if err != nil {
		return site.Response{}, err
	}
	return site.Response{To: g.Base + "?saved=1"}, nil
}

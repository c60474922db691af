package people

import (
	"net/http"
	"net/url"
	"strconv"
	"strings"

	"bellbuoy/cmd/bellbuoy/internal/web/site"
	"bellbuoy/store"
)

// takeBackCallForm asks whether a call note is taken back.
func (s pages) takeBackCallForm(r *http.Request) (site.Response, error) {
	p, _, err := s.takeBackCallPage(r)
	return site.Response{Page: "take-back.html", Data: p}, err
}

func (s pages) takeBackCallPage(r *http.Request) (*site.TakeBackPage, store.Call, error) {
	n, err := strconv.ParseInt(r.PathValue("n"), 10, 64)
	if err != nil {
		return nil, store.Call{}, site.NotFound("There is no call note of that number.")
	}
	c, err := s.App.DB.Call(r.Context(), n)
	if err != nil {
		return nil, c, err
	}
	who, err := s.App.DB.Customer(r.Context(), c.CustomerID)
	p := &site.TakeBackPage{
		Title:  "Take back the call to " + who.Name + " on " + s.Format().Date(s.DayOf(c.At)) + " (" + strings.ToLower(site.OutcomeName(c.Outcome)) + ")?",
		Action: r.URL.Path, Back: "/customers/" + url.PathEscape(who.ID) + "#contacts", Form: site.NewForm(),
		Follows: []string{"A wish to be called that it settled is open again.", "What " + who.Name + " is taken to have said about a visit no longer counts, and leaves the work sheet."},
	}
	return p, c, err
}

func (s pages) takeBackCall(r *http.Request) (site.Response, error) {
	p, c, err := s.takeBackCallPage(r)
	if err != nil {
		return site.Response{}, err
	}
	did, err := s.App.TakeBackCall(r.Context(), s.Now(), site.Actor(r), r.PostFormValue("form"), c)
	return s.TakenBack(r, p, c.BoatID, &did, err)
}

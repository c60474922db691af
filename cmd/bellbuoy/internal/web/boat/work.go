package boat

import (
	"errors"
	"net/http"
	"net/url"

	"bellbuoy/cmd/bellbuoy/internal/app"
	"bellbuoy/cmd/bellbuoy/internal/web/site"
	"bellbuoy/schedule/words"
	"bellbuoy/store"
)

// A technician's list of a visit's jobs, to tick where he stands: the record form in
// one column that a thumb can use, with nothing ticked yet.

// workForm is that list.
func (s pages) workForm(r *http.Request) (site.Response, error) {
	f, err := s.NeedVisit(r)
	if err != nil {
		return site.Response{}, err
	}
	p, err := s.recordPage(r, f)
	if err != nil {
		return site.Response{}, err
	}
	p.Day = s.Today() // whenever the boat was booked for
	return site.Response{Page: "work.html", Data: &workPage{p, whereWords(&f), false}}, nil
}

// workPage is the list with where the boat is found.
type workPage struct {
	*recordPage
	Where string
	Sent  bool // it comes back, refused
}

// workDone leads from the list back to where it was opened. The address names the
// form's key, so that a browser that kept the form knows that the shop has it. One
// that was sent before is taken for saved: it is.
func (s pages) workDone(r *http.Request, p *recordPage, w *store.Work, did *app.Change, err error) (site.Response, error) {
	note := p.Boat.Title() + ": this was saved before; nothing is on file twice."
	if !errors.Is(err, store.ErrSent) {
		note = s.Also(p.Boat.Title()+": "+words.Plural(len(w.Records), "job", "jobs")+" recorded.", did)
	}
	to, err := url.Parse(p.Back)
	if err != nil {
		return site.Response{}, err
	}
	q := to.Query()
	q.Set("saved", r.PostFormValue("form"))
	to.RawQuery = q.Encode()
	return site.Response{To: to.String(), Note: note}, nil
}

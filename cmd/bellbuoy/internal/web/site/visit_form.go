package site

import (
	"context"
	"errors"
	"net/http"
	"net/url"
	"slices"
	"strings"

	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/words"
	"bellbuoy/store"
)

// visitForm is what the forms about one boat, and mostly one visit, have in
// common.
type VisitForm struct {
	Boat  schedule.Boat
	Place schedule.Place
	Owner schedule.Customer
	View  schedule.BoatView
	Visit *schedule.VisitView // nil if the form is about no planned visit
	Back  string
	Fault string // what was wrong with the form as it was sent
	Form  string // a name for this form, so that it counts once
}

// VisitID is the visit's id, "" for none.
func (f *VisitForm) VisitID() string {
	if f.Visit == nil {
		return ""
	}
	return f.Visit.Visit.ID
}

// VisitForm reads the boat named in the path and the visit named in the form.
func (s *Site) VisitForm(r *http.Request) (VisitForm, error) {
	f, err := s.FormAbout(r.Context(), r.PathValue("id"), r.FormValue("visit"))
	if r.FormValue("back") != "" {
		f.Back = OwnPath(r.FormValue("back"))
	}
	return f, err
}

// FormAbout is the form about a boat, and about the visit of an id if that is not
// "".
func (s *Site) FormAbout(ctx context.Context, id, want string) (VisitForm, error) {
	view, err := s.App.View(ctx, id)
	if err != nil {
		return VisitForm{}, err
	}
	f := VisitForm{Boat: view.Boat, Place: view.Place, View: view, Back: "/boats/" + url.PathEscape(id), Form: NewForm()}
	if f.Owner, err = s.App.OwnerOf(ctx, id); err != nil {
		return f, err
	}
	for i := range view.Visits {
		if view.Visits[i].Visit.ID == want {
			f.Visit = &view.Visits[i]
		}
	}
	if want != "" && f.Visit == nil {
		return f, Problem{http.StatusNotFound, "That visit is no longer in the plan: its work is recorded, or it was planned anew. The boat's page shows what is planned now."}
	}
	return f, nil
}

// needVisit is visitForm for a form that makes no sense without a visit.
func (s *Site) NeedVisit(r *http.Request) (VisitForm, error) {
	f, err := s.VisitForm(r)
	if err == nil && f.Visit == nil {
		err = Problem{http.StatusBadRequest, "The address lacks the visit it is about. Go back to the boat's page and choose one."}
	}
	return f, err
}

// why is what the store has against an entry, without what it was doing: the
// person at the form knows that.
func why(err error) string {
	for e := err; e != nil; e = errors.Unwrap(e) {
		several, _ := e.(interface{ Unwrap() []error })
		if errors.Unwrap(e) == store.ErrRefused || several != nil && slices.Contains(several.Unwrap(), store.ErrRefused) {
			err = e
			break
		}
	}
	return strings.TrimSuffix(err.Error(), ": "+store.ErrRefused.Error())
}

// sentence makes an error's text readable as one.
func sentence(s string) string { return words.UpperFirst(s) + "." }

// formDay reads a day from a form; the empty field is the day given.
func FormDay(r *http.Request, field, name string, otherwise civil.Day) (civil.Day, error) {
	v := strings.TrimSpace(r.PostFormValue(field))
	if v == "" {
		return otherwise, nil
	}
	d, err := civil.Parse(v)
	if err != nil {
		return 0, Refusal{field, name + ": " + v + " is not a day. Write it like 2027-04-12."}
	}
	return d, nil
}

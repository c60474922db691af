package week

import (
	"errors"
	"net/http"
	"slices"
	"strings"

	"bellbuoy/cmd/bellbuoy/internal/web/site"
	"bellbuoy/schedule"
	"bellbuoy/schedule/words"
	"bellbuoy/store"
)

// callPage logs a call.
type callPage struct {
	site.VisitForm
	Outcomes []site.Outcome
	Earlier  []store.Call
	Say      string          // what to say
	Action   string          // where the form goes
	Asked    []site.ReplyRow // the owner's requests for a call that are not settled
}

func (s pages) callForm(r *http.Request) (site.Response, error) {
	f, err := s.VisitForm(r)
	if err != nil {
		return site.Response{}, err
	}
	if f.Owner.ID == "" {
		return site.Response{}, site.NotFound("Nobody owns this boat, so there is nobody to ring.")
	}
	return s.callPage(r, f)
}

// callCustomerForm is for a call to a customer that is about no boat.
func (s pages) callCustomerForm(r *http.Request) (site.Response, error) {
	f, err := s.customerForm(r)
	if err != nil {
		return site.Response{}, err
	}
	return s.callPage(r, f)
}

func (s pages) callPage(r *http.Request, f site.VisitForm) (site.Response, error) {
	p := callPage{VisitForm: f, Outcomes: site.Outcomes(), Say: s.whatToSay(&f), Action: r.URL.Path}
	var err error
	if p.Earlier, err = s.App.DB.CallsTo(r.Context(), f.Owner.ID, 10); err != nil {
		return site.Response{}, err
	}
	asked, err := s.App.DB.OpenAnswers(r.Context(), schedule.AnswerCall, mostAsked)
	for i := range asked {
		if asked[i].CustomerID == f.Owner.ID {
			p.Asked = append(p.Asked, s.AnswerRow(&asked[i]))
		}
	}
	return site.Response{Page: "call.html", Data: &p}, err
}

// customerForm reads the customer named in the path, for a form about no boat.
func (s pages) customerForm(r *http.Request) (site.VisitForm, error) {
	c, err := s.App.DB.Customer(r.Context(), r.PathValue("id"))
	f := site.VisitForm{Owner: c, Back: "/calls", Form: site.NewForm()}
	if r.FormValue("back") != "" {
		f.Back = site.OwnPath(r.FormValue("back"))
	}
	return f, err
}

// whatToSay is a first sentence for the telephone.
func (s pages) whatToSay(f *site.VisitForm) string {
	if f.Boat.ID == "" {
		return "This is " + s.App.Config.Shop.Name + ". You asked us to call you. What can we do for you?"
	}
	hello := "This is " + s.App.Config.Shop.Name + ", about " + f.Boat.Title() + ". "
	if f.Visit == nil {
		return hello + "Is there anything you would like us to look at?"
	}
	v := f.Visit
	return hello + v.Title + ": " + words.LowerFirst(v.Why) + " Does that suit you, or is another week better?"
}

// thinksDays is for how many days a visit rests whose owner wants to think about
// it, on the call list and in the mails.
const thinksDays = 7

// call writes a call down. About a visit that left the plan meanwhile it is a note
// about the boat: what was said is not lost.
func (s pages) call(r *http.Request) (site.Response, error) {
	f, err := s.VisitForm(r)
	if err != nil && f.Boat.ID == "" {
		return site.Response{}, err
	}
	return s.noteCall(r, f)
}

func (s pages) callCustomer(r *http.Request) (site.Response, error) {
	f, err := s.customerForm(r)
	if err != nil {
		return site.Response{}, err
	}
	return s.noteCall(r, f)
}

func (s pages) noteCall(r *http.Request, f site.VisitForm) (site.Response, error) {
	code := r.PostFormValue("outcome")
	if f.Owner.ID == "" || !slices.ContainsFunc(site.Outcomes(), func(o site.Outcome) bool { return o.Code == code }) {
		return site.Response{}, site.NewProblem(http.StatusBadRequest, "The form lacks what came of the call. Go back and press one of its buttons.")
	}
	note := strings.TrimSpace(r.PostFormValue("note"))
	did, err := s.App.NoteCall(r.Context(), s.Now(), store.Call{
		Form: r.PostFormValue("form"), Actor: site.Actor(r), CustomerID: f.Owner.ID, BoatID: f.Boat.ID, VisitID: f.VisitID(), Outcome: code, Note: note,
		Until: s.Today() + thinksDays,
	})
	if booked := (*store.StillBooked)(nil); errors.As(err, &booked) {
		f.Fault = "The visit is booked for " + s.BookedFor(&booked.Booking) + ". If the customer does not come that day, take the booking off first (“Wants a day”), then note the call; or choose another outcome."
		a, err := s.callPage(r, f)
		a.Refused = site.Refusals{site.At("", f.Fault)}
		return a, err
	}
	if err != nil && !errors.Is(err, store.ErrSent) { // pressed twice
		return site.Response{}, err
	}
	return site.Response{To: f.Back, Note: s.Also("Call to "+f.Owner.Name+" logged: "+words.LowerFirst(site.OutcomeName(code))+".", &did)}, nil
}

package web

import (
	"net/http"
	"slices"
	"strings"

	"bellbuoy/schedule"
	"bellbuoy/schedule/words"
	"bellbuoy/store"
)

// callPage logs a call.
type callPage struct {
	visitForm
	Outcomes []outcome
	Earlier  []store.Call
	Say      string      // what to say
	Action   string      // where the form goes
	Asked    []answerRow // the owner's requests for a call that are not settled
}

// outcome is what a call may come to, with its button.
type outcome struct{ Code, Name, About string }

// outcomes are the ends of a call, the commonest first.
func outcomes() []outcome {
	return []outcome{
		{store.CallNoAnswer, "No answer", "comes back on the phone round tomorrow"},
		{store.CallMessage, "Left a message", "comes back in three days"},
		{store.CallRingsBack, "Will ring back", "comes back in three days"},
		{store.CallSettled, "Talked it over", "settles a request for a call"},
		{store.CallThinks, "Thinks about it", "comes back in a week; no mail about it before"},
		{store.CallDeclined, "Does not want it", "no more calls or mails about this visit; its hours are free"},
	}
}

func outcomeName(code string) string {
	if code == store.CallBooked {
		return "Booked"
	}
	for _, o := range outcomes() {
		if o.Code == code {
			return o.Name
		}
	}
	return code
}

func (s *Server) callForm(r *http.Request) (response, error) {
	f, err := s.visitForm(r)
	if err != nil {
		return response{}, err
	}
	if f.Owner.ID == "" {
		return response{}, notFound("Nobody owns this boat, so there is nobody to ring.")
	}
	return s.callPage(r, f)
}

// callCustomerForm is for a call to a customer that is about no boat.
func (s *Server) callCustomerForm(r *http.Request) (response, error) {
	f, err := s.customerForm(r)
	if err != nil {
		return response{}, err
	}
	return s.callPage(r, f)
}

func (s *Server) callPage(r *http.Request, f visitForm) (response, error) {
	p := callPage{visitForm: f, Outcomes: outcomes(), Say: s.whatToSay(&f), Action: r.URL.Path}
	var err error
	if p.Earlier, err = s.App.DB.CallsTo(r.Context(), f.Owner.ID, 10); err != nil {
		return response{}, err
	}
	asked, err := s.App.DB.OpenAnswers(r.Context(), schedule.AnswerCall, mostAsked)
	for i := range asked {
		if asked[i].CustomerID == f.Owner.ID {
			p.Asked = append(p.Asked, s.answerRow(&asked[i]))
		}
	}
	return response{page: "call.html", data: &p}, err
}

// customerForm reads the customer named in the path, for a form about no boat.
func (s *Server) customerForm(r *http.Request) (visitForm, error) {
	c, err := s.App.DB.Customer(r.Context(), r.PathValue("id"))
	f := visitForm{Owner: c, Back: "/phone"}
	if r.FormValue("back") != "" {
		f.Back = ownPath(r.FormValue("back"))
	}
	return f, err
}

// whatToSay is a first sentence for the telephone.
func (s *Server) whatToSay(f *visitForm) string {
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
// it, on the phone round and in the mails.
const thinksDays = 7

func (s *Server) call(r *http.Request) (response, error) {
	f, err := s.visitForm(r)
	if err != nil {
		return response{}, err
	}
	return s.noteCall(r, f)
}

func (s *Server) callCustomer(r *http.Request) (response, error) {
	f, err := s.customerForm(r)
	if err != nil {
		return response{}, err
	}
	return s.noteCall(r, f)
}

func (s *Server) noteCall(r *http.Request, f visitForm) (response, error) {
	code := r.PostFormValue("outcome")
	if f.Owner.ID == "" || !slices.ContainsFunc(outcomes(), func(o outcome) bool { return o.Code == code }) {
		return response{}, problem{http.StatusBadRequest, "The form lacks what came of the call. Go back and press one of its buttons."}
	}
	note := strings.TrimSpace(r.PostFormValue("note"))
	err := s.App.DB.LogCall(r.Context(), s.Now(), store.Call{
		Actor: actor(r), CustomerID: f.Owner.ID, BoatID: f.Boat.ID, VisitID: f.VisitID(), Outcome: code, Note: note,
		Until: s.today() + thinksDays,
	})
	if err == nil && note != "" && f.Visit != nil {
		err = s.App.DB.AddSaid(r.Context(), s.Now(), store.Said{Actor: actor(r), BoatID: f.Boat.ID, VisitID: f.VisitID(), Words: note})
	}
	if err != nil {
		return response{}, err
	}
	return response{to: f.Back, note: "Call to " + f.Owner.Name + " logged: " + words.LowerFirst(outcomeName(code)) + "."}, nil
}

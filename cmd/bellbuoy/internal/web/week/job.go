package week

import (
	"cmp"
	"errors"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"bellbuoy/cmd/bellbuoy/internal/app"
	"bellbuoy/cmd/bellbuoy/internal/web/site"
	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/measure"
	"bellbuoy/store"
)

// jobPage takes a job that a customer asks for, from the catalog or in the words
// of whoever asks.
type jobPage struct {
	site.VisitForm
	Services []jobChoice
	Visits   []jobVisit // planned, on which the job may go along
	Day      civil.Day  // suggested for a visit of its own
	Today    civil.Day
	Doubted  bool // it may be taken when somebody says that it is right
}

type jobChoice struct{ Code, Title string }

type jobVisit struct{ ID, Words string }

func (s pages) jobForm(r *http.Request) (site.Response, error) {
	f, err := s.VisitForm(r)
	if err != nil {
		return site.Response{}, err
	}
	return s.jobAgain(r, f, nil)
}

func (s pages) jobAgain(r *http.Request, f site.VisitForm, refusal error) (site.Response, error) {
	why, _ := site.Refused(refusal)
	f.Fault = why.Words()
	p := jobPage{VisitForm: f, Today: s.Today(), Doubted: errors.As(refusal, new(*app.Doubtful))}
	cat := s.App.Planner.Catalogue()
	for _, code := range cat.ServiceCodes() {
		if code != schedule.ServiceOther {
			p.Services = append(p.Services, jobChoice{code, cat.ServiceTitle(code)})
		}
	}
	slices.SortFunc(p.Services, func(x, y jobChoice) int { return cmp.Compare(x.Title, y.Title) })
	for i := range f.View.Visits {
		v := &f.View.Visits[i]
		when := "week of " + s.LogDay(site.ShownDay(v.Visit))
		if v.Visit.Booked() {
			when = s.BookedFor(v.Visit.Booking)
		}
		p.Visits = append(p.Visits, jobVisit{v.Visit.ID, v.Title + ", " + when})
	}
	var err error
	p.Day, err = s.App.NextWorkday(r.Context(), s.Today())
	return site.Response{Page: "job.html", Data: &p, Refused: why}, err
}

// addJob takes the job. A visit of its own is booked next; a job that goes along is
// planned with its visit.
func (s pages) addJob(r *http.Request) (site.Response, error) {
	f, err := s.VisitForm(r)
	if err != nil {
		return site.Response{}, err
	}
	fu, err := s.readJob(r, &f)
	if err != nil {
		return s.jobAgain(r, f, err)
	}
	work := store.Work{BoatID: f.Boat.ID, FollowUps: []schedule.FollowUp{fu}}
	did, err := s.App.Record(r.Context(), s.Now(), site.Actor(r), r.PostFormValue("form"), &work, r.PostFormValue("sure") != "")
	if _, ok := site.Refused(err); ok {
		return s.jobAgain(r, f, err)
	}
	if err != nil {
		return site.Response{}, err
	}
	boat := "/boats/" + url.PathEscape(f.Boat.ID)
	note := s.Also("Added for "+f.Boat.Title()+": "+fu.Title+".", &did)
	plan, err := s.App.DB.Plan(r.Context(), f.Boat.ID)
	if err != nil {
		return site.Response{}, err
	}
	for _, it := range plan.Items {
		if v := it.VisitID; v != "" && it.IsFollowUp(work.FollowUps[0].ID) && f.VisitID() == "" {
			return site.Response{To: boat + "/book?" + url.Values{"visit": {v}, "back": {f.Back}, "day": {fu.Due.String()}}.Encode(), Note: note}, nil
		}
	}
	return site.Response{To: f.Back, Note: note}, nil
}

// readJob reads the job that is asked for; every fault at once.
func (s pages) readJob(r *http.Request, f *site.VisitForm) (schedule.FollowUp, error) {
	var wrong site.Refusals
	cat := s.App.Planner.Catalogue()
	fu := schedule.FollowUp{
		BoatID: f.Boat.ID, Service: cmp.Or(r.PostFormValue("service"), schedule.ServiceOther), Title: strings.Join(strings.Fields(r.PostFormValue("words")), " "),
		Asked: true, Alone: f.Visit == nil, Raised: s.Today(),
	}
	fu.Finding = "asked for"
	switch {
	case fu.Service == schedule.ServiceOther && fu.Title == "":
		wrong.Add(site.At("words", "What is to be done: write it, or choose a job of the catalog."))
	case !cat.HasService(fu.Service):
		wrong.Add(site.At("service", fu.Service+" is not in the catalog."))
	case fu.Title == "":
		fu.Title = cat.ServiceTitle(fu.Service)
	}
	rule, known := cat.Rule(fu.Service)
	minutes := strings.TrimSpace(r.PostFormValue("minutes"))
	switch n, err := strconv.Atoi(minutes); {
	case minutes == "" && known:
		fu.Labour = rule.Labour
	case minutes == "":
	case err != nil || n < 5 || n > 24*60:
		wrong.Add(site.At("minutes", "Minutes: "+minutes+" is no number of minutes from 5 to 1440."))
	default:
		fu.Labour = n
	}
	price := strings.TrimSpace(r.PostFormValue("price"))
	switch cents, err := measure.ParseCents(cmp.Or(price, "0")); {
	case price == "" && known:
		fu.Price = rule.Price
	case err != nil || cents < 0:
		wrong.Add(site.At("price", "Price: "+price+" is not an amount. Write it like 184.00."))
	default:
		fu.Price = cents
	}
	day, err := site.FormDay(r, "day", "Day", 0)
	switch {
	case f.Visit != nil:
		fu.Due = site.ShownDay(f.Visit.Visit)
	case err != nil:
		wrong.Add(err)
	case day < s.Today():
		wrong.Add(site.At("day", "Day: choose one from today on."))
	default:
		fu.Due = day
	}
	if wrong != nil {
		return fu, wrong
	}
	return fu, nil
}

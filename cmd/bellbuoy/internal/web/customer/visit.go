package customer

import (
	"net/http"
	"slices"
	"strings"

	"bellbuoy/cmd/bellbuoy/internal/web/site"
	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
)

// myVisitPage is one visit with every answer that its customer may give.
type myVisitPage struct {
	guest
	Boat     schedule.Boat
	Visit    myVisit
	Cautions []string
	Meters   []schedule.Outlook
	// Elsewhere is the work that others did by the file, so that a button pressed
	// twice is known again.
	Elsewhere []schedule.Record

	choosing
	Laters []later
	Moves  bool // a booked day may still be changed here

	Was       string // the booking that the page is shown for
	Meanwhile string // what became of the visit since the form was sent, "" if nothing
	Note      string // what was said in a form that is no longer shown
	Refused   string // why a form was refused, "" if none was
	Today     civil.Day
}

// later is a day from which the customer may be asked again.
type later struct {
	Until civil.Day
	Words string
}

func (s pages) myVisit(r *http.Request, g guest) (site.Response, error) {
	p, found, err := s.visitPage(r, g, r.PathValue("visit"))
	if err != nil {
		return site.Response{}, err
	}
	if !found {
		return s.staleVisit(g), nil
	}
	return site.Response{Page: "my-visit.html", Data: &p}, nil
}

// visitPage gathers a visit's page; false if it is not among the customer's.
func (s pages) visitPage(r *http.Request, g guest, visitID string) (p myVisitPage, found bool, err error) {
	rec, err := s.recipient(r, g)
	if err != nil {
		return p, false, err
	}
	boat, visit := findVisit(&rec, visitID)
	if visit == nil || saysSold(&rec, boat.Boat.ID) || visit.Visit.Kind == schedule.Winter { // nobody comes in for that
		return p, false, nil
	}
	p = myVisitPage{guest: g, Boat: boat.Boat, Visit: s.myVisitOf(g, &rec, visit), Cautions: s.visitCautions(visit), Today: s.Today()}
	b := visit.Visit.Booking
	p.Was = b.When()
	p.Moves = b == nil || b.Day > s.Today()
	f, err := s.App.Facts(r.Context(), boat.Boat.ID)
	if err != nil {
		return p, false, err
	}
	p.Meters = s.App.Planner.HoursOutlook(&f, s.Today())
	for _, rec := range f.Records {
		if rec.By == schedule.ByElsewhere {
			p.Elsewhere = append(p.Elsewhere, rec)
		}
	}
	err = s.room(r, &p)
	p.Laters = s.laters(&visit.Visit, p.Weeks)
	return p, true, err
}

// saysSold reports whether a customer no longer has a boat by their own word.
func saysSold(rec *schedule.Recipient, boatID string) bool {
	return slices.ContainsFunc(rec.Answers, func(a schedule.Answer) bool { return a.Kind == schedule.AnswerSold && a.BoatID == boatID })
}

// findVisit finds a visit among a customer's boats.
func findVisit(rec *schedule.Recipient, id string) (*schedule.BoatView, *schedule.VisitView) {
	for i := range rec.Boats {
		b := &rec.Boats[i]
		if k := slices.IndexFunc(b.Visits, func(v schedule.VisitView) bool { return v.Visit.ID == id }); k >= 0 {
			return b, &b.Visits[k]
		}
	}
	return nil, nil
}

// room fills in the days that may be taken.
func (s pages) room(r *http.Request, p *myVisitPage) (err error) {
	v := &p.Visit.Visit
	kept, own := v.Week, civil.Day(0)
	if v.Booked() {
		kept = v.Booking.Day.Week()
		own = v.Booking.Day
	}
	p.choosing, err = s.choose(r, []*schedule.Visit{v}, kept, own)
	return err
}

// laters are the days from which one may be asked again: those after which there
// is a week with room that is still in time.
func (s pages) laters(v *schedule.Visit, weeks []civil.Week) []later {
	var all []later
	today := s.Today()
	for _, l := range []later{{today + 14, s.Say("page_visit.two_weeks")}, {today + 28, s.Say("page_visit.four_weeks")}, {today + 56, s.Say("page_visit.eight_weeks")}} {
		if s.App.WeekAfter(v, weeks, l.Until) != 0 {
			all = append(all, l)
		}
	}
	return all
}

// mostCautions keeps the page readable; those about life are shown beyond it, and
// the work sheet carries what is for the technician.
const mostCautions = 4

// visitCautions are those that the owner should know until the visit: the
// season's, then those of the jobs, each once.
func (s pages) visitCautions(v *schedule.VisitView) []string {
	var all []string
	switch {
	case v.Visit.Kind == schedule.LayUp:
		all = append(all, s.Say("page_caution.lay_up"))
	case v.Visit.Kind == schedule.FitOut && !v.NoGasoline:
		all = append(all, s.Say("page_caution.fit_out"))
	}
	for _, c := range schedule.OwnerCautions(v.Lines, mostCautions) {
		// The season's says the same of the blower.
		if len(all) == 0 || !strings.Contains(c, "blower") || !strings.Contains(all[0], "blower") {
			all = append(all, c)
		}
	}
	return append(all, s.Say("page_caution.manual"))
}

package web

import (
	"net/http"
	"strings"

	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/store"
)

// answersPage is what customers answered lately, for the desk.
type answersPage struct {
	Days int
	Open []answerRow // what the desk has yet to see to, of whatever age
	Rows []answerRow // the others of the last days
}

// answerRow is one answer with what the desk may do about it.
type answerRow struct {
	store.OpenAnswer
	On    civil.Day
	Words string
	Visit string // "Winter lay-up", "" if it is about none
	Do    string // where the desk goes on, "" for nowhere
	Label string
	Open  bool // somebody of the shop has yet to see to it
}

// answersBack is how many days of answers the desk sees, and mostAnswers how
// many of them.
const (
	answersBack = 14
	mostAnswers = 200
)

// answers lists what the desk has to see to, the longest waiting first, and then
// what else customers answered lately, the newest first.
func (s *Server) answers(r *http.Request) (response, error) {
	all, err := s.App.DB.AnswersSince(r.Context(), s.Now().AddDate(0, 0, -answersBack), mostAnswers)
	if err != nil {
		return response{}, err
	}
	open, err := s.App.DB.OpenAnswers(r.Context(), "", mostAsked)
	if err != nil {
		return response{}, err
	}
	p := answersPage{Days: answersBack}
	todo := make(map[int64]bool, len(open))
	for i := range open {
		todo[open[i].ID] = true
		p.Open = append(p.Open, s.answerRow(&open[i]))
	}
	for i := range all {
		if !todo[all[i].ID] {
			p.Rows = append(p.Rows, s.answerRow(&all[i]))
		}
	}
	return response{page: "answers.html", data: &p}, nil
}

func (s *Server) answerRow(o *store.OpenAnswer) answerRow {
	row := answerRow{OpenAnswer: *o, On: s.dayOf(o.At), Visit: visitNamed(o.VisitID)}
	switch o.Kind {
	case schedule.AnswerTake:
		row.Words = "took a day"
	case schedule.AnswerCancel:
		row.Words = "cancelled a booked day"
	case schedule.AnswerLater:
		row.Words = "wants to be asked again after " + o.Until.Long()
	case schedule.AnswerDecline:
		row.Words = "does not want the visit"
	case schedule.AnswerCall:
		row.Words, row.Do, row.Label, row.Open = "wants a call", "/phone", "Call list", !o.Seen
	case schedule.AnswerElsewhere:
		row.Words = "had work done elsewhere"
	case schedule.AnswerHours:
		row.Words = "read the hour meter"
	case schedule.AnswerSold:
		row.Words, row.Do, row.Label, row.Open = "no longer has the boat", "/boats/"+o.Boat.ID+"/hands", "Settle", !o.Seen
	case schedule.AnswerMails:
		row.Words = "chose which mails to get"
	}
	return row
}

// visitNamed names a visit that may have left the plan, by its id.
func visitNamed(id string) string {
	switch {
	case id == "":
		return ""
	case strings.Contains(id, "."+schedule.LayUp+"."):
		return schedule.VisitTitle(schedule.LayUp)
	case strings.Contains(id, "."+schedule.FitOut+"."):
		return schedule.VisitTitle(schedule.FitOut)
	}
	return schedule.VisitTitle(schedule.Extra)
}

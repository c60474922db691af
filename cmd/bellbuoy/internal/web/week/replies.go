package week

import (
	"bellbuoy/cmd/bellbuoy/internal/web/site"
	"net/http"
	"strconv"
)

// answersPage is what customers answered lately, for the desk.
type repliesPage struct {
	Days int
	Open []site.ReplyRow // what the desk has yet to see to, of whatever age
	Rows []site.ReplyRow // the others of the last days
}

// answersBack is how many days of answers the desk sees, and mostAnswers how
// many of them.
const (
	answersBack = 14
	mostAnswers = 200
)

// answers lists what the desk has to see to, the longest waiting first, and then
// what else customers answered lately, the newest first.
func (s pages) answers(r *http.Request) (site.Response, error) {
	all, err := s.App.DB.AnswersSince(r.Context(), s.Now().AddDate(0, 0, -answersBack), mostAnswers)
	if err != nil {
		return site.Response{}, err
	}
	open, err := s.App.DB.OpenAnswers(r.Context(), "", mostAsked)
	if err != nil {
		return site.Response{}, err
	}
	p := repliesPage{Days: answersBack}
	todo := make(map[int64]bool, len(open))
	for i := range open {
		todo[open[i].ID] = true
		p.Open = append(p.Open, s.AnswerRow(&open[i]))
	}
	for i := range all {
		if !todo[all[i].ID] {
			p.Rows = append(p.Rows, s.AnswerRow(&all[i]))
		}
	}
	return site.Response{Page: "answers.html", Data: &p}, nil
}

// seeToReply writes down that somebody of the shop has seen to a reply.
func (s pages) seeToReply(r *http.Request) (site.Response, error) {
	id, err := strconv.ParseInt(r.PostFormValue("id"), 10, 64)
	if err != nil {
		return site.Response{}, site.NewProblem(http.StatusBadRequest, "The form lacks which reply it is about. Go back and press its button.")
	}
	if err := s.App.SeeToReply(r.Context(), s.Now(), site.Actor(r), id); err != nil {
		return site.Response{}, err
	}
	return site.Response{To: "/replies", Note: "The reply is settled."}, nil
}

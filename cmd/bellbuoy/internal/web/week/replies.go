package week

import (
	"net/http"
	"strconv"

	"bellbuoy/cmd/bellbuoy/internal/web/site"
	"bellbuoy/schedule/words"
	"bellbuoy/store"
)

// answersPage is what customers answered lately, for the desk.
type repliesPage struct {
	Days int
	Open []replyRow // what the desk has yet to see to, of whatever age
	Rows []replyRow // the others of the last days
}

// replyRow is a reply with what the desk compares it with.
type replyRow struct {
	site.ReplyRow
	Waits    string // how long the customer has waited: "3 days"
	Expected string // hours: "expected 240 to 250 h"
}

// replyRow words a reply in full.
func (s pages) replyRow(r *http.Request, o *store.OpenAnswer) (replyRow, error) {
	row := replyRow{ReplyRow: s.AnswerRow(o), Waits: "today"}
	if days := s.Today() - row.On; days > 0 {
		row.Waits = words.Plural(int(days), "day", "days")
	}
	for _, reading := range o.Readings {
		low, high, ok, err := s.App.ExpectedHours(r.Context(), o.BoatID, reading)
		if err != nil {
			return row, err
		}
		if ok && row.Expected == "" {
			row.Expected = "expected " + low.String() + " to " + high.String() + " h"
		}
	}
	return row, nil
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
		row, err := s.replyRow(r, &open[i])
		if err != nil {
			return site.Response{}, err
		}
		p.Open = append(p.Open, row)
	}
	for i := range all {
		if todo[all[i].ID] {
			continue
		}
		row, err := s.replyRow(r, &all[i])
		if err != nil {
			return site.Response{}, err
		}
		p.Rows = append(p.Rows, row)
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

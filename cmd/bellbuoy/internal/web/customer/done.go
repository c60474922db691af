package customer

import (
	"errors"
	"net/http"
	"net/url"
	"strconv"
	"strings"

	"bellbuoy/cmd/bellbuoy/internal/app"
	"bellbuoy/cmd/bellbuoy/internal/web/site"
	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/store"
	"bellbuoy/store/outbox"
)

// myDonePage confirms an answer.
type myDonePage struct {
	guest
	Replies []replyRow
	Kind    schedule.AnswerKind
	UndoDay civil.Day // the last day on which it may be taken back here
	CanUndo bool      // one of them may be
	NoMail  bool      // the customer gets no mail about it
}

func (s pages) myDone(r *http.Request, g guest) (site.Response, error) {
	rec, err := s.recipient(r, g)
	if err != nil {
		return site.Response{}, err
	}
	sending, err := outbox.Sending(r.Context(), s.App.DB)
	if err != nil {
		return site.Response{}, err
	}
	p := myDonePage{guest: g, NoMail: !sending.On || rec.NoMail || rec.Suppressed != "" || rec.Customer.Email == "" || rec.Customer.ContactBy != "email"}
	// Answers that were given together are named together.
	for text := range strings.SplitSeq(r.PathValue("id"), ",") {
		id, err := strconv.ParseInt(text, 10, 64)
		if err != nil {
			return site.Response{}, site.NotFound(s.Say("page_problem.not_found"))
		}
		a, err := s.App.DB.Answer(r.Context(), s.Now(), s.Today(), g.Customer.ID, id)
		if errors.Is(err, store.ErrNotFound) {
			continue
		}
		if err != nil {
			return site.Response{}, err
		}
		p.Kind, p.UndoDay = a.Kind, s.DayOf(a.At.Add(store.UndoWithin))
		p.Replies = append(p.Replies, replyRow{ID: a.ID, On: s.DayOf(a.At), CanUndo: a.CanUndo, Words: s.replyWords(&rec, &a)})
		p.CanUndo = p.CanUndo || a.CanUndo
	}
	if len(p.Replies) == 0 {
		return site.Response{Page: "my-stale.html", Code: http.StatusNotFound, Data: stalePage{
			Title: s.Say("page_gone.taken_back"), Words: s.Say("page_gone.taken_back_why"), Phone: g.Phone, Back: g.At(""),
		}}, nil
	}
	return site.Response{Page: "my-done.html", Data: p}, nil
}

func (s pages) myUndo(r *http.Request, g guest) (site.Response, error) {
	id, err := strconv.ParseInt(r.FormValue("id"), 10, 64)
	if err != nil {
		return site.Response{}, site.NewProblem(http.StatusBadRequest, s.Say("page_gone.undo_what"))
	}
	_, err = s.App.UndoReply(r.Context(), s.Now(), g.Customer.ID, id)
	if full := (*app.FullWeek)(nil); errors.As(err, &full) {
		return site.Response{Page: "my-stale.html", Code: http.StatusConflict, Data: stalePage{
			Title: s.Say("page_gone.undo"), Words: s.Say("page_gone.undo_week", "date", s.Format().Date(full.Week.Monday())),
			Phone: g.Phone, Back: g.At(""),
		}}, nil
	}
	if errors.Is(err, store.ErrRefused) {
		return site.Response{Page: "my-stale.html", Code: http.StatusConflict, Data: stalePage{
			Title: s.Say("page_gone.undo"), Words: s.Say("page_gone.undo_late"),
			Phone: g.Phone, Back: g.At(""),
		}}, nil
	}
	if err != nil {
		return site.Response{}, err
	}
	return site.Response{To: g.Base + "?" + url.Values{"undone": {"1"}}.Encode()}, nil
}

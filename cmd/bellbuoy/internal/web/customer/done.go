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
	Said    []saidRow
	Kind    schedule.AnswerKind
	UndoDay civil.Day // the last day on which it may be taken back here
	CanUndo bool      // one of them may be
	NoMail  bool      // the customer gets no mail about it
}

func (s pages) myDone(r *http.Request, g guest) (site.Response, error) {
	rec, err := s.App.Recipient(r.Context(), g.Customer.ID)
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
			return site.Response{}, site.NotFound("Not found: there is nothing here under that name.")
		}
		a, err := s.App.DB.Answer(r.Context(), s.Now(), s.Today(), g.Customer.ID, id)
		if errors.Is(err, store.ErrNotFound) {
			continue
		}
		if err != nil {
			return site.Response{}, err
		}
		p.Kind, p.UndoDay = a.Kind, s.DayOf(a.At.Add(store.UndoWithin))
		p.Said = append(p.Said, saidRow{ID: a.ID, On: s.DayOf(a.At), CanUndo: a.CanUndo, Words: s.saidOf(&rec, &a)})
		p.CanUndo = p.CanUndo || a.CanUndo
	}
	if len(p.Said) == 0 {
		return site.Response{Page: "my-stale.html", Code: http.StatusNotFound, Data: stalePage{
			Title: "This was taken back", Words: "Everything is as it was before.", Phone: g.Phone, Back: g.Base,
		}}, nil
	}
	return site.Response{Page: "my-done.html", Data: p}, nil
}

func (s pages) myUndo(r *http.Request, g guest) (site.Response, error) {
	id, err := strconv.ParseInt(r.FormValue("id"), 10, 64)
	if err != nil {
		return site.Response{}, site.NewProblem(http.StatusBadRequest, "It is not said what is to be taken back.")
	}
	_, err = s.App.UndoReply(r.Context(), s.Now(), g.Customer.ID, id)
	if full := (*app.FullWeek)(nil); errors.As(err, &full) {
		return site.Response{Page: "my-stale.html", Code: http.StatusConflict, Data: stalePage{
			Title: "This can no longer be taken back here", Words: "The week of " + s.Format().Date(full.Week.Monday()) + " has filled up since. Please choose another day, or call us.",
			Phone: g.Phone, Back: g.Base,
		}}, nil
	}
	if errors.Is(err, store.ErrRefused) {
		return site.Response{Page: "my-stale.html", Code: http.StatusConflict, Data: stalePage{
			Title: "This can no longer be taken back here", Words: "The shop has acted on it, or more than two days have passed. Please call us and we will set it right.",
			Phone: g.Phone, Back: g.Base,
		}}, nil
	}
	if err != nil {
		return site.Response{}, err
	}
	return site.Response{To: g.Base + "?" + url.Values{"undone": {"1"}}.Encode()}, nil
}

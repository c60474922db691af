package site

import (
	"errors"
	"net/http"

	"bellbuoy/cmd/bellbuoy/internal/app"
	"bellbuoy/schedule"
	"bellbuoy/schedule/words"
	"bellbuoy/store"
)

// TakeBackPage asks once whether something is taken back, and says what follows
// (page take-back.html).
type TakeBackPage struct {
	Title   string
	Action  string // where the form goes
	Back    string
	Form    string // a name for this form, so that it counts once
	Seen    string // names what the form was made for
	Ticks   []Tick // what can be taken back by itself
	Follows []string
	Told    schedule.Message // an email that told of it, without an id for none
	ToldOn  string
	Fault   string
}

// Tick is a line with a box before it.
type Tick struct {
	Name, Value, Words string
	On                 bool
}

// SetTold notes the email that told of the mistake, for the desk to have a correction
// sent.
func (p *TakeBackPage) SetTold(s *Site, m schedule.Message) {
	if p.Told = m; m.ID != 0 {
		p.ToldOn = s.Format().Date(s.DayOf(m.QueuedAt))
	}
}

// Owed is the correction that the form asks for, none if it asks for none.
func (p *TakeBackPage) Owed(r *http.Request, boatID string) []store.Owed {
	if p.Told.ID == 0 || r.PostFormValue("correct") == "" {
		return nil
	}
	return []store.Owed{app.CorrectionOwed(boatID, p.Told)}
}

// TakenBack answers a form that took something back: with where to go on to, or
// with the question again where it cannot be.
func (s *Site) TakenBack(r *http.Request, p *TakeBackPage, boatID string, did *app.Change, err error) (Response, error) {
	if errors.Is(err, store.ErrStale) || errors.Is(err, store.ErrNotFound) {
		err = Correct("Meanwhile it was taken back or changed by somebody else. Look at it again.")
	}
	if why, ok := Refused(err); ok {
		p.Fault = why.Words()
		return Response{Page: "take-back.html", Data: p, Refused: why}, nil
	}
	if err != nil {
		return Response{}, err
	}
	note := s.Also("Taken back.", did)
	if len(p.Owed(r, boatID)) > 0 {
		queued, err := s.App.Correct(r.Context(), s.Now(), boatID, p.Told)
		if err != nil {
			return Response{}, err
		}
		if queued {
			note += " A correction is on its way."
		} else {
			note += " No correction was queued: email is off, or the customer has no address that works or wants none. Please call."
		}
	}
	return Response{To: p.Back, Note: note}, nil
}

// DueWords words changes of due days.
func (s *Site) DueWords(all []app.DueChange) []string {
	var out []string
	for _, d := range all {
		out = append(out, words.UpperFirst(d.Words(s.Format())))
	}
	return out
}

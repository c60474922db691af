package site

import (
	"bytes"
	"cmp"
	"context"
	"errors"
	"fmt"
	"maps"
	"math"
	"net/http"
	"slices"
	"strconv"
	"time"

	"bellbuoy/store"
)

// Problem is an error whose words the visitor may read.
type Problem struct {
	Code  int
	Words string
}

func (p Problem) Error() string { return fmt.Sprintf("%d: %s", p.Code, p.Words) }

// NewProblem refuses a request with a status and words for the visitor.
func NewProblem(code int, words string) error { return Problem{code, words} }

// NotFound is the problem of an address behind which there is nothing.
func NotFound(words string) error { return Problem{http.StatusNotFound, words} }

// ErrElsewhere refuses a form on a machine whose shop another one runs by now: what it
// said would be on file where nobody looks.
var ErrElsewhere = errors.New("another machine runs the shop")

// Takes is [ErrElsewhere] for a form that this machine must not take, nil for any other
// request.
func (s *Site) Takes(r *http.Request) error {
	if r.Method == http.MethodPost && s.App.Elsewhere != nil && s.App.Elsewhere() {
		return ErrElsewhere
	}
	return nil
}

// answer is what a handler gives back: a page to render, or a place to go to.
type Response struct {
	Page string // name of a template under pages/
	Data any
	To   string // redirect with 303 after a form, "" for a page
	Code int    // 0 is 200, or 422 if refused
	// cookie is set with the answer, nil for none.
	cookie *http.Cookie
	// note is one sentence to show on the page that a redirect leads to.
	Note string
	// Language is that of the reader, "" for staff, and Languages is the same page in
	// others.
	Language  string
	Languages []Other
	// refused is why the form that was sent is shown again, nil for any other
	// page.
	Refused Refusals
	// wait is how long to wait before another attempt (Retry-After), 0 to say
	// nothing of it.
	wait time.Duration
}

// handler answers one route. Handlers never write to the response themselves,
// so there is never half a page with a 200.
type Handler func(r *http.Request) (Response, error)

// respond turns what a handler gives back into bytes.
func (s *Site) respond(w http.ResponseWriter, r *http.Request, h Handler) {
	a, err := h(r)
	s = s.In(a.Language)
	if err != nil {
		s.Fail(w, r, err)
		return
	}
	if a.cookie != nil {
		http.SetCookie(w, a.cookie)
	}
	if a.To != "" {
		if a.Note != "" {
			http.SetCookie(w, s.noteCookie(a.Note))
		}
		http.Redirect(w, r, a.To, http.StatusSeeOther)
		return
	}
	f := s.frame(r, a)
	if f.Note = NoteOf(r); f.Note != "" {
		http.SetCookie(w, s.noteCookie(""))
	}
	var buf bytes.Buffer
	if err := s.pages.render(&buf, s.Language(), a.Page, f); err != nil {
		s.Fail(w, r, err)
		return
	}
	body := buf.Bytes()
	if a.Refused != nil {
		a.Code = cmp.Or(a.Code, http.StatusUnprocessableEntity)
		if body, err = refill(body, r, a.Refused); err != nil {
			s.Fail(w, r, err)
			return
		}
	}
	keepPlain(w, r, body)
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	w.Header().Set("Cache-Control", "no-store")
	if a.wait > 0 {
		w.Header().Set("Retry-After", strconv.Itoa(int(math.Ceil(a.wait.Seconds()))))
	}
	if a.Code != 0 {
		w.WriteHeader(a.Code)
	}
	w.Write(body)
}

// problemPage says what went wrong.
type problemPage struct {
	Words   string
	Again   *Again
	Refused bool // nothing of the form was saved, for certain
}

// Again is a form whose answer failed, to look at and to send once more.
type Again struct {
	To     string
	Fields []Field
}

// Field is one value of a form; Typed, if somebody entered it, who reads its Label.
type Field struct {
	Name, Value, Label string
	Typed              bool
}

// unseen are the fields by which forms tell presses and what was shown apart.
var unseen = []string{"form", "seen", "was", "back"}

// unsaved is the form that a request sent, nil for none and for one with files or
// a password in it.
func (s *Site) unsaved(r *http.Request) *Again {
	if r.Method != http.MethodPost || r.MultipartForm != nil || r.ParseForm() != nil || len(r.PostForm) == 0 || r.PostForm.Has("password") {
		return nil
	}
	a := &Again{To: r.URL.RequestURI()}
	for _, name := range slices.Sorted(maps.Keys(r.PostForm)) {
		for _, v := range r.PostForm[name] {
			label := name
			if s.language != "" { // customers do not read the names of fields
				label = s.Say("page_field." + name)
			}
			a.Fields = append(a.Fields, Field{name, v, label, v != "" && label != "" && !slices.Contains(unseen, name)})
		}
	}
	return a
}

// gone reports whether an error is that of a visitor who did not wait: no fault
// of ours, and nobody reads an answer.
func gone(r *http.Request, err error) bool {
	return r.Context().Err() != nil && errors.Is(err, context.Canceled)
}

// Fail shows the words of a problem; of any other error that something went wrong,
// and to staff what can be done about the disk or the file. The log has the rest.
func (s *Site) Fail(w http.ResponseWriter, r *http.Request, err error) {
	var p Problem
	var again *Again
	switch {
	case errors.As(err, &p):
	case errors.Is(err, store.ErrNotFound):
		p = Problem{http.StatusNotFound, s.Say("page_problem.not_found")}
	case errors.Is(err, ErrElsewhere):
		p, again = Problem{http.StatusServiceUnavailable, s.Say("page_problem.elsewhere")}, s.unsaved(r)
	case gone(r, err):
		s.Log.DebugContext(r.Context(), "the visitor left", "path", scrubPath(r.URL.Path))
		return
	default:
		s.Log.ErrorContext(r.Context(), "page failed", "path", scrubPath(r.URL.Path), "error", err)
		p = Problem{http.StatusInternalServerError, s.Say("page_problem.ours")}
		if _, staff := StaffOf(r); staff {
			if advice := store.Advice(err); advice != "" {
				p.Words += " For whoever looks after the server: " + advice + "."
			}
		}
		again = s.unsaved(r)
	}
	var buf bytes.Buffer
	if err := s.pages.render(&buf, s.Language(), "problem.html", s.frame(r, Response{Data: problemPage{p.Words, again, errors.Is(err, ErrElsewhere)}})); err != nil {
		http.Error(w, p.Words, p.Code)
		return
	}
	keepPlain(w, r, buf.Bytes())
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	w.Header().Set("Cache-Control", "no-store")
	w.WriteHeader(p.Code)
	w.Write(buf.Bytes())
}

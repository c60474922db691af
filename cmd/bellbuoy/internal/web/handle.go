package web

import (
	"bytes"
	"errors"
	"fmt"
	"math"
	"net/http"
	"strconv"
	"time"

	"bellbuoy/store"
)

// problem is an error whose words the visitor may read.
type problem struct {
	code  int
	words string
}

func (p problem) Error() string { return fmt.Sprintf("%d: %s", p.code, p.words) }

func notFound(words string) error { return problem{http.StatusNotFound, words} }

// answer is what a handler gives back: a page to render, or a place to go to.
type response struct {
	page string // name of a template under pages/
	data any
	to   string // redirect with 303 after a form, "" for a page
	code int    // 0 is 200
	// cookie is set with the answer, nil for none.
	cookie *http.Cookie
	// note is one sentence to show on the page that a redirect leads to.
	note string
	// refused is why the form that was sent is shown again, nil for any other
	// page.
	refused refusals
	// wait is how long to wait before another attempt (Retry-After), 0 to say
	// nothing of it.
	wait time.Duration
}

// handler answers one route. Handlers never write to the response themselves,
// so there is never half a page with a 200.
type handler func(r *http.Request) (response, error)

// respond turns what a handler gives back into bytes.
func (s *Server) respond(w http.ResponseWriter, r *http.Request, h handler) {
	a, err := h(r)
	if err != nil {
		s.fail(w, r, err)
		return
	}
	if a.cookie != nil {
		http.SetCookie(w, a.cookie)
	}
	if a.to != "" {
		if a.note != "" {
			http.SetCookie(w, s.noteCookie(a.note))
		}
		http.Redirect(w, r, a.to, http.StatusSeeOther)
		return
	}
	f := s.frame(r, a)
	if f.Note = noteOf(r); f.Note != "" {
		http.SetCookie(w, s.noteCookie(""))
	}
	var buf bytes.Buffer
	if err := s.pages.render(&buf, a.page, f); err != nil {
		s.fail(w, r, err)
		return
	}
	body := buf.Bytes()
	if a.refused != nil {
		a.code = http.StatusUnprocessableEntity
		if body, err = refill(body, r, a.refused); err != nil {
			s.fail(w, r, err)
			return
		}
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	w.Header().Set("Cache-Control", "no-store")
	if a.wait > 0 {
		w.Header().Set("Retry-After", strconv.Itoa(int(math.Ceil(a.wait.Seconds()))))
	}
	if a.code != 0 {
		w.WriteHeader(a.code)
	}
	w.Write(body)
}

// fail shows the words of a problem; of any other error only that something
// went wrong, and the log has the rest.
func (s *Server) fail(w http.ResponseWriter, r *http.Request, err error) {
	var p problem
	switch {
	case errors.As(err, &p):
	case errors.Is(err, store.ErrNotFound):
		p = problem{http.StatusNotFound, "There is nothing here under that name."}
	default:
		s.Log.ErrorContext(r.Context(), "page failed", "path", scrubPath(r.URL.Path), "error", err)
		p = problem{http.StatusInternalServerError, "Something went wrong on our side. Nothing you entered was lost; please try again in a moment."}
	}
	var buf bytes.Buffer
	if err := s.pages.render(&buf, "problem.html", s.frame(r, response{data: p.words})); err != nil {
		http.Error(w, p.words, p.code)
		return
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	w.Header().Set("Cache-Control", "no-store")
	w.WriteHeader(p.code)
	w.Write(buf.Bytes())
}

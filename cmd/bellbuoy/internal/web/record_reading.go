package web

import "net/http"

// readingForm asks for the hour meters only: the record form without a visit.
func (s *Server) readingForm(r *http.Request) (response, error) {
	f, err := s.visitForm(r)
	if err != nil {
		return response{}, err
	}
	f.Visit = nil
	p, err := s.recordPage(r, f)
	return response{page: "reading.html", data: p}, err
}

package web

import "net/http"

// readingForm asks for the hour meters only: the record form without a visit.
func (s *Server) readingForm(r *http.Request) (answer, error) {
	f, err := s.visitForm(r)
	if err != nil {
		return answer{}, err
	}
	f.Visit = nil
	p, err := s.recordPage(r, f)
	return answer{page: "reading.html", data: p}, err
}

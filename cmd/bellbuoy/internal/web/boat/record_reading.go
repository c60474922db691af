package boat

import (
	"bellbuoy/cmd/bellbuoy/internal/web/site"
	"net/http"
)

// readingForm asks for the hour meters only: the record form without a visit.
func (s pages) readingForm(r *http.Request) (site.Response, error) {
	f, err := s.VisitForm(r)
	if err != nil {
		return site.Response{}, err
	}
	f.Visit = nil
	p, err := s.recordPage(r, f)
	return site.Response{Page: "reading.html", Data: p}, err
}

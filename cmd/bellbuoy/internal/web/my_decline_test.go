package web_test

import (
	"net/http"
	"net/url"
	"strings"
	"testing"
)

// TestADeclinedVisitKeepsNoHours: what the customer does not want takes no room
// in the shop's weeks, until they take that back.
func TestADeclinedVisitKeepsNoHours(t *testing.T) {
	s := newTestShop(t)
	my := s.my("W1")
	week := func() string {
		t.Helper()
		w, err := s.house.Fit(t.Context(), s.today())
		if err != nil {
			t.Fatal(err)
		}
		for _, visits := range w.Visits {
			for _, v := range visits {
				if v.ID == perchVisit {
					return v.Week.String()
				}
			}
		}
		return ""
	}
	before := week()
	if before == "" {
		t.Fatal("the visit has no week to begin with")
	}
	to := s.post(my+"/answer", url.Values{"kind": {"decline"}, "visit": {perchVisit}}).code(http.StatusSeeOther).to()
	if got := week(); got != "" {
		t.Errorf("declined, and still pencilled for %s", got)
	}
	s.post(my+"/undo", url.Values{"id": {to[strings.LastIndexByte(to, '/')+1:]}}).code(http.StatusSeeOther)
	if got := week(); got != before {
		t.Errorf("taken back, and pencilled for %q instead of %s", got, before)
	}
}

package web_test

import (
	"net/http"
	"net/url"
	"slices"
	"testing"
)

// FuzzAnswerForms sends whatever a form may hold. The page must answer with one
// of the codes it means, never with a fault of ours, and another customer's
// boat must stay as it is.
func FuzzAnswerForms(f *testing.F) {
	f.Add("take", perchVisit, "", "2027-05-04", "", "note")
	f.Add("elsewhere", perchVisit, "", "2026-11-20", "400", "0")
	f.Add("elsewhere", "", "PERCH", "2026-11-20", "PERCH-RG/registration@2027-03-31", "")
	f.Add("later", perchVisit, "", "2026-12-09", "", "")
	f.Add("hours", "", "PERCH", "0000-00-00", "1e9", "\x00")
	f.Add("sold", "PUFFIN.lay-up.2027", "PUFFIN", "", "", "\xff\r\n")
	f.Add("mails", "", "", "", "none", "")
	s := newTestShop(f).asDesk() // its server keeps no log
	my, before := s.my("W1"), s.facts("PUFFIN")
	means := []int{http.StatusSeeOther, http.StatusBadRequest, http.StatusNotFound, http.StatusConflict, http.StatusUnprocessableEntity}
	f.Fuzz(func(t *testing.T, kind, visit, boat, day, figure, note string) {
		s.t = t
		form := url.Values{"kind": {kind}, "visit": {visit}, "boat": {boat}, "day": {day}, "until": {day}, "week": {day}, "note": {note},
			"h-PERCH-E1": {figure}, "item": {figure}, "mails": {figure}, "line": {note, perchJob}, "id": {figure}}
		for _, path := range []string{"/answer", "/undo"} {
			if a := s.post(my+path, form); !slices.Contains(means, a.Code) {
				t.Errorf("%s answered %d: %s", path, a.Code, a.text())
			}
		}
		after := s.facts("PUFFIN")
		if len(after.Records) != len(before.Records) || len(after.Bookings) != len(before.Bookings) || len(after.Readings) != len(before.Readings) {
			t.Error("another customer's boat changed")
		}
	})
}

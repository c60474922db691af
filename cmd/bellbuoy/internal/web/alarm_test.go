package web_test

import (
	"net/http"
	"testing"
)

// TestStoppedMailIsSaidOnTheDesksPages: a queue that stands still is no secret
// from the desk, and no business of a technician.
func TestStoppedMailIsSaidOnTheDesksPages(t *testing.T) {
	s := newTestShop(t)
	deskCookie, technician := s.hire("Ines", "desk"), s.hire("Tomas", "technician")
	const alarm = "No mail is going out"
	s.send(http.MethodGet, "/", nil, "Cookie", deskCookie).code(http.StatusOK).silent(alarm)
	if err := s.house.DB.Hold(t.Context(), s.now, "owner", "looking at a complaint"); err != nil {
		t.Fatal(err)
	}
	s.send(http.MethodGet, "/", nil, "Cookie", deskCookie).code(http.StatusOK).says(alarm, "looking at a complaint")
	s.send(http.MethodGet, "/boats/PERCH", nil, "Cookie", technician).code(http.StatusOK).silent(alarm)
}

package site

import (
	"net/http"

	"bellbuoy/schedule"
	"bellbuoy/store"
)

// BoatRow is a boat in a list of boats, with its next visit and what can be done
// about it (template "boat-row").
type BoatRow struct {
	Boat schedule.Boat
	Next *schedule.Visit // nil if nothing is planned
	// Stage is how far Next has come if the boat is with us for it.
	Stage store.Stage
	Back  string // the page of the list
	Book  bool   // the reader may book
	Call  bool   // and note a call: the boat has an owner
}

// BoatRow reads a boat's next visit.
func (s *Site) BoatRow(r *http.Request, b schedule.Boat, owned bool) (BoatRow, error) {
	who, _ := StaffOf(r)
	row := BoatRow{Boat: b, Back: r.URL.RequestURI(), Book: who.Level() >= Desk, Call: owned && who.Level() >= Desk}
	plan, err := s.App.DB.Plan(r.Context(), b.ID)
	if err != nil || len(plan.Visits) == 0 {
		return row, err
	}
	row.Next = &plan.Visits[0]
	here, err := s.App.DB.InYard(r.Context())
	row.Stage = here[row.Next.ID]
	return row, err
}

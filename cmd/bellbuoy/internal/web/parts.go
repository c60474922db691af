package web

import (
	"net/http"
	"slices"
	"strconv"

	"bellbuoy/cmd/bellbuoy/internal/round"
)

// partsPage lists what the coming visits use up.
type partsPage struct {
	Weeks   int
	Choices []int
	Needs   []round.PartNeed
}

func (s *Server) parts(r *http.Request) (answer, error) {
	p := partsPage{Weeks: 4, Choices: []int{1, 2, 4, 8, 13, 26}}
	if n, err := strconv.Atoi(r.FormValue("weeks")); err == nil && slices.Contains(p.Choices, n) {
		p.Weeks = n
	}
	var err error
	p.Needs, err = s.House.Parts(r.Context(), s.today(), p.Weeks)
	return answer{page: "parts-list.html", data: &p}, err
}

package web

import (
	"net/http"
	"slices"
	"strconv"

	"bellbuoy/cmd/bellbuoy/internal/app"
)

// partsPage lists what the coming visits use up.
type partsPage struct {
	Weeks   int
	Choices []int
	Needs   []app.PartNeed
	Behind  *partVisits // the visits behind one part, nil if none was asked for
}

// partVisits is who needs a part.
type partVisits struct {
	app.PartNeed
	Visits []app.NamedVisit
}

func (s *Server) parts(r *http.Request) (response, error) {
	p := partsPage{Weeks: 4, Choices: []int{1, 2, 4, 8, 13, 26}}
	if n, err := strconv.Atoi(r.FormValue("weeks")); err == nil && slices.Contains(p.Choices, n) {
		p.Weeks = n
	}
	var err error
	if p.Needs, err = s.App.Parts(r.Context(), s.today(), p.Weeks); err != nil {
		return response{}, err
	}
	for _, n := range p.Needs {
		if n.Part.Code == r.FormValue("part") {
			p.Behind = &partVisits{PartNeed: n}
			p.Behind.Visits, err = s.App.Named(r.Context(), n.Visits)
		}
	}
	return response{page: "parts-list.html", data: &p}, err
}

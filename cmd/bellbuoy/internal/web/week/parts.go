package week

import (
	"net/http"
	"slices"
	"strconv"

	"bellbuoy/cmd/bellbuoy/internal/app"
	"bellbuoy/cmd/bellbuoy/internal/web/site"
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

func (s pages) parts(r *http.Request) (site.Response, error) {
	p := partsPage{Weeks: 4, Choices: []int{1, 2, 4, 8, 13, 26}}
	if n, err := strconv.Atoi(r.FormValue("weeks")); err == nil && slices.Contains(p.Choices, n) {
		p.Weeks = n
	}
	var err error
	if p.Needs, err = s.App.Parts(r.Context(), s.Today(), p.Weeks); err != nil {
		return site.Response{}, err
	}
	for _, n := range p.Needs {
		if n.Part.Code == r.FormValue("part") {
			p.Behind = &partVisits{PartNeed: n}
			p.Behind.Visits, err = s.App.Named(r.Context(), n.Visits)
		}
	}
	return site.Response{Page: "parts-list.html", Data: &p}, err
}

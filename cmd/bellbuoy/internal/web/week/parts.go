package week

import (
	"net/http"
	"slices"
	"strconv"

	"bellbuoy/cmd/bellbuoy/internal/app"
	"bellbuoy/cmd/bellbuoy/internal/web/site"
	"bellbuoy/store"
)

// partsPage lists what the coming visits use up, what is there and what is on
// order.
type partsPage struct {
	Weeks     int
	Choices   []int
	Needs     []app.PartLine
	Suppliers []supplier // with what is on order
	Received  []store.PartOrder
	Behind    *partVisits // the visits behind one part, nil if none was asked for
	MayOrder  bool
	Fault     string
	Form      string
	Back      string
}

// partVisits is who needs a part.
type partVisits struct {
	app.PartNeed
	Visits []app.NamedVisit
}

// receivedShown is how many orders that came in the page names.
const receivedShown = 10

func (s pages) parts(r *http.Request) (site.Response, error) { return s.partsAgain(r, nil) }

// partsAgain shows the page, with why its form was refused.
func (s pages) partsAgain(r *http.Request, refused site.Refusals) (site.Response, error) {
	who, _ := site.StaffOf(r)
	p := partsPage{Weeks: 4, Choices: []int{1, 2, 4, 8, 13, 26}, MayOrder: who.Level() >= site.Desk, Fault: refused.Words(), Form: site.NewForm()}
	if n, err := strconv.Atoi(r.FormValue("weeks")); err == nil && slices.Contains(p.Choices, n) {
		p.Weeks = n
	}
	p.Back = "/parts?weeks=" + strconv.Itoa(p.Weeks)
	var err error
	if p.Needs, err = s.App.PartLines(r.Context(), s.Today(), p.Weeks); err != nil {
		return site.Response{}, err
	}
	open, err := s.App.DB.OpenOrders(r.Context())
	if err != nil {
		return site.Response{}, err
	}
	p.Suppliers = suppliers(open)
	if p.Received, err = s.App.DB.ReceivedOrders(r.Context(), receivedShown); err != nil {
		return site.Response{}, err
	}
	for _, n := range p.Needs {
		if n.Part.Code == r.FormValue("part") {
			p.Behind = &partVisits{PartNeed: n.PartNeed}
			p.Behind.Visits, err = s.App.Named(r.Context(), n.Visits)
		}
	}
	return site.Response{Page: "parts-list.html", Data: &p, Refused: refused}, err
}

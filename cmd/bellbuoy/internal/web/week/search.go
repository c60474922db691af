package week

import (
	"net/http"
	"net/url"
	"strings"

	"bellbuoy/cmd/bellbuoy/internal/web/site"
	"bellbuoy/schedule"
	"bellbuoy/store/report"
)

// searchMost is how many boats a search shows.
const searchMost = 50

// searchPage shows what was found, an owner's boats together.
type searchPage struct {
	Text   string
	Groups []searchGroup
	N      int  // boats
	Full   bool // there may be more
	Former bool // found through somebody who had the boat before
	Near   string
}

// searchGroup is a customer, without an id for boats that the shop has, and those
// of their boats that were found.
type searchGroup struct {
	Owner schedule.Customer
	Boats []site.BoatRow
}

// search finds boats and customers. What is the only one of its kind opens at
// once: a boat, or a customer with several.
func (s pages) search(r *http.Request) (site.Response, error) {
	p := searchPage{Text: strings.TrimSpace(r.FormValue("q"))}
	found, err := report.Search(r.Context(), s.App.DB, p.Text, searchMost)
	if err != nil {
		return site.Response{}, err
	}
	p.Full, p.Former, p.Near = len(found.Hits) >= searchMost, found.Former, strings.Join(found.Near, ", ")
	for _, h := range found.Hits {
		if n := len(p.Groups); n == 0 || p.Groups[n-1].Owner.ID != h.Owner.ID {
			p.Groups = append(p.Groups, searchGroup{Owner: h.Owner})
		}
		g := &p.Groups[len(p.Groups)-1]
		if h.Boat.ID == "" {
			continue
		}
		row, err := s.BoatRow(r, h.Boat, h.Owner.ID != "")
		if err != nil {
			return site.Response{}, err
		}
		g.Boats = append(g.Boats, row)
		p.N++
	}
	if len(p.Groups) == 1 {
		switch g := &p.Groups[0]; {
		case len(g.Boats) == 1:
			return site.Response{To: "/boats/" + url.PathEscape(g.Boats[0].Boat.ID)}, nil
		case g.Owner.ID != "":
			return site.Response{To: "/customers/" + url.PathEscape(g.Owner.ID)}, nil
		}
	}
	return site.Response{Page: "search.html", Data: &p}, nil
}

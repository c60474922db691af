package week

import (
	"net/http"
	"net/url"
	"strings"

	"bellbuoy/cmd/bellbuoy/internal/web/site"
	"bellbuoy/store/report"
)

// searchMost is how many boats a search shows.
const searchMost = 50

type searchPage struct {
	Text string
	Hits []report.SearchHit
	Full bool // there may be more
}

// search finds boats by name, customer, HIN or telephone number.
func (s pages) search(r *http.Request) (site.Response, error) {
	p := searchPage{Text: strings.TrimSpace(r.FormValue("q"))}
	hits, err := report.Search(r.Context(), s.App.DB, p.Text, searchMost)
	if err != nil {
		return site.Response{}, err
	}
	if len(hits) == 1 {
		return site.Response{To: "/boats/" + url.PathEscape(hits[0].Boat.ID)}, nil
	}
	p.Hits, p.Full = hits, len(hits) == searchMost
	return site.Response{Page: "search.html", Data: &p}, nil
}

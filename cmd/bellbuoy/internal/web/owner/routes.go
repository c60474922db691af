// Package owner is the owner's pages: figures, their pictures and the lists
// behind them. It may import site and figures; it changes nothing but who is on
// the call list.
package owner

import (
	"net/http"

	"bellbuoy/cmd/bellbuoy/internal/figures"
	"bellbuoy/cmd/bellbuoy/internal/web/site"
)

// pages are this wing's handlers.
type pages struct {
	*site.Site
	books  *site.Memo[*figures.Ledger] // while no boat, owner or record changes
	report *site.Memo[*figures.MonthlyReport]
}

// Routes are the addresses that this wing answers.
func Routes(s *site.Site) []site.Route {
	p := pages{s, new(site.Memo[*figures.Ledger]), new(site.Memo[*figures.MonthlyReport])}
	return []site.Route{
		{Pattern: "GET /owner", Who: site.Owner, Page: p.ownerMoney},
		{Pattern: "GET /owner/compare", Who: site.Owner, Page: p.ownerCompare},
		{Pattern: "GET /owner/season", Who: site.Owner, Page: p.ownerSeason},
		{Pattern: "GET /owner/second-reminder", Who: site.Owner, Page: p.ownerNudges},
		{Pattern: "GET /owner/returning", Who: site.Owner, Page: p.ownerReturning},
		{Pattern: "GET /owner/ahead", Who: site.Owner, Page: p.ownerAhead},
		{Pattern: "GET /owner/work", Who: site.Owner, Page: p.ownerWork},
		{Pattern: "GET /owner/lapsed", Who: site.Owner, Page: p.ownerAway},
		{Pattern: "POST /owner/lapsed", Who: site.Owner, Page: p.ownerRing},
		{Pattern: "GET /owner/report", Who: site.Owner, Page: p.ownerLetter},
		{Pattern: "GET /owner/group", Who: site.Owner, Page: p.ownerGroup},
		{Pattern: "GET /owner/words", Who: site.Owner, Page: p.ownerWords},
		{Pattern: "GET /owner/list/{name}", Who: site.Owner, Page: p.ownerList},
		{Pattern: "GET /owner/csv/{name}", Who: site.Owner, Raw: http.HandlerFunc(p.ownerCSV)},
		{Pattern: "GET /owner/chart/{name}", Who: site.Owner, Raw: s.SVG(p.ownerSVG)},
	}
}

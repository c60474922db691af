// Package boat is everything about one boat: its page, the record of work, the
// work sheet, a new sale and a change of owner. Requests and the shop go in,
// pages come out. It may import site, and acts through app only.
package boat

import (
	"net/http"
	"net/url"

	"bellbuoy/cmd/bellbuoy/internal/web/site"
)

// pages are this wing's handlers.
type pages struct{ *site.Site }

// Routes are the addresses that this wing answers.
func Routes(s *site.Site) []site.Route {
	p := pages{s}
	return []site.Route{
		{Pattern: "GET /boats/{id}", Who: site.Technician, Page: p.boat},
		{Pattern: "GET /boats/{id}/hours/{component}", Who: site.Technician, Raw: s.SVG(p.hoursSVG)},
		{Pattern: "POST /boats/{id}/feed", Who: site.Desk, Page: p.revokeFeed},
		{Pattern: "POST /boats/{id}/winter", Who: site.Desk, Page: p.winterWork},
		{Pattern: "GET /boats/{id}/record", Who: site.Technician, Page: p.recordForm},
		{Pattern: "GET /boats/{id}/work", Who: site.Technician, Page: p.workForm},
		{Pattern: "POST /boats/{id}/record", Who: site.Technician, Page: p.record},
		{Pattern: "GET /boats/{id}/recorded", Who: site.Technician, Page: p.recorded},
		{Pattern: "GET /boats/{id}/take-back", Who: site.Technician, Page: p.takeBackForm},
		{Pattern: "POST /boats/{id}/take-back", Who: site.Technician, Page: p.takeBack},
		{Pattern: "GET /boats/{id}/owner/take-back", Who: site.Desk, Page: p.takeBackOwnerForm},
		{Pattern: "POST /boats/{id}/owner/take-back", Who: site.Desk, Page: p.takeBackOwner},
		{Pattern: "GET /boats/{id}/edit", Who: site.Desk, Page: p.editForm},
		{Pattern: "POST /boats/{id}/edit", Who: site.Desk, Page: p.edit},
		{Pattern: "POST /boats/{id}/note", Who: site.Technician, Page: p.note},
		{Pattern: "GET /boats/{id}/part", Who: site.Desk, Page: p.partForm},
		{Pattern: "POST /boats/{id}/part", Who: site.Desk, Page: p.changePart},
		{Pattern: "POST /boats/{id}/part/back", Who: site.Desk, Page: p.unretire},
		{Pattern: "GET /boats/{id}/rules", Who: site.Desk, Page: p.rulesForm},
		{Pattern: "POST /boats/{id}/rules", Who: site.Desk, Page: p.changeRule},
		{Pattern: "GET /boats/{id}/sheet", Who: site.Technician, Page: p.sheet},
		{Pattern: "GET /sheets", Who: site.Technician, Page: p.sheets},
		{Pattern: "GET /boats/{id}/reading", Who: site.Technician, Page: p.readingForm},
		{Pattern: "GET /sold", Who: site.Desk, Page: p.soldForm},
		{Pattern: "POST /sold", Who: site.Desk, Page: p.sell},
		{Pattern: "GET /boats/{id}/owner", Who: site.Desk, Page: p.ownershipForm},
		{Pattern: "POST /boats/{id}/owner", Who: site.Desk, Page: p.handOver},
		{Pattern: "GET /boats/{id}/delivery-sheet", Who: site.Technician, Page: p.handOverSheet},
		{Pattern: "GET /boats/{id}/hands", Who: site.Desk, Raw: moved("owner")},
		{Pattern: "GET /boats/{id}/hand-over", Who: site.Technician, Raw: moved("delivery-sheet")},
		{Pattern: "POST /boats/{id}/welcome", Who: site.Desk, Page: p.welcome},
	}
}

// moved sends a bookmark of a boat's page to the name that the page has now.
func moved(to string) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		http.Redirect(w, r, "/boats/"+url.PathEscape(r.PathValue("id"))+"/"+to, http.StatusMovedPermanently)
	})
}

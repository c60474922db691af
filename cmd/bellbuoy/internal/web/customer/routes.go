// Package customer is the customers' own pages, opened by an address that is its
// own key: their boats, what is next, replies, the calendar, stopping emails. It
// may import site, and acts through app only. No page here names another
// customer.
package customer

import (
	"net/http"

	"bellbuoy/cmd/bellbuoy/internal/web/site"
)

// pages are this wing's handlers.
type pages struct{ *site.Site }

// Routes are the addresses that this wing answers.
func Routes(s *site.Site) []site.Route {
	p := pages{s}
	return []site.Route{
		{Pattern: "GET /my/{token}", Who: site.Anyone, Page: p.guests(pages.my)},
		{Pattern: "GET /my/{token}/visit/{visit...}", Who: site.Anyone, Page: p.guests(pages.myVisit)},
		{Pattern: "GET /my/{token}/together", Who: site.Anyone, Page: p.guests(pages.together)},
		{Pattern: "POST /my/{token}/together", Who: site.Anyone, Page: p.guests(pages.takeTogether)},
		{Pattern: "GET /my/{token}/appointment/{visit...}", Who: site.Anyone, Raw: http.HandlerFunc(p.appointmentFile)},
		{Pattern: "GET /my/{token}/record/{boat...}", Who: site.Anyone, Page: p.guests(pages.serviceRecord)},
		{Pattern: "POST /my/{token}/answer", Who: site.Anyone, Page: p.guests(pages.myAnswer)},
		{Pattern: "POST /my/{token}/contact", Who: site.Anyone, Page: p.guests(pages.changeContact)},
		{Pattern: "GET /my/{token}/done/{id}", Who: site.Anyone, Page: p.guests(pages.myDone)},
		{Pattern: "POST /my/{token}/undo", Who: site.Anyone, Page: p.guests(pages.myUndo)},
		{Pattern: "GET /my/{token}/calendar", Who: site.Anyone, Page: p.guests(pages.myCalendar)},
		{Pattern: "POST /my/{token}/calendar/renew", Who: site.Anyone, Page: p.guests(pages.renewCalendar)},
		{Pattern: "GET /stop/{token}", Who: site.Anyone, Page: p.stops(pages.stopPage)},
		// Mail programs post here by themselves, from nowhere in particular.
		{Pattern: "POST /stop/{token}", Who: site.Anyone, Page: p.stops(pages.stop), CrossOrigin: true},
	}
}

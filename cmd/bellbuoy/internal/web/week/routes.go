// Package week is the desk's work of the coming weeks: the due list, the shop
// weeks, booking, the call list, replies, parts and the search. Requests and the
// shop go in, pages come out. It may import site, and acts through app only. A
// newcomer may change a page's words in site/pages and its struct here.
package week

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
		{Pattern: "GET /{$}", Who: site.Technician, Page: p.week},
		{Pattern: "GET /day", Who: site.Technician, Page: p.day},
		{Pattern: "POST /day", Who: site.Technician, Page: p.pressed},
		{Pattern: "GET /search", Who: site.Technician, Page: p.search},
		{Pattern: "GET /calls", Who: site.Desk, Page: p.phone},
		{Pattern: "GET /phone", Who: site.Desk, Raw: http.RedirectHandler("/calls", http.StatusMovedPermanently)}, // as emails of before name it
		{Pattern: "GET /late", Who: site.Technician, Page: p.late},
		{Pattern: "GET /weeks", Who: site.Technician, Page: p.weeks},
		{Pattern: "POST /weeks", Who: site.Desk, Page: p.editWeeks},
		{Pattern: "GET /weeks/load", Who: site.Technician, Raw: s.SVG(p.loadSVG)},
		{Pattern: "GET /batteries", Who: site.Technician, Page: p.batteries},
		{Pattern: "POST /batteries", Who: site.Technician, Page: p.charged},
		{Pattern: "GET /freeze", Who: site.Technician, Page: p.freeze},
		{Pattern: "GET /parts", Who: site.Technician, Page: p.parts},
		{Pattern: "POST /parts", Who: site.Desk, Page: p.orderParts},
		{Pattern: "GET /parts/order", Who: site.Technician, Page: p.orderList},
		{Pattern: "GET /parts/order.csv", Who: site.Technician, Raw: http.HandlerFunc(p.orderCSV)},
		{Pattern: "GET /boats/{id}/book", Who: site.Desk, Page: p.bookForm},
		{Pattern: "POST /boats/{id}/book", Who: site.Desk, Page: p.book},
		{Pattern: "GET /boats/{id}/job", Who: site.Desk, Page: p.jobForm},
		{Pattern: "POST /boats/{id}/job", Who: site.Desk, Page: p.addJob},
		{Pattern: "GET /boats/{id}/call", Who: site.Desk, Page: p.callForm},
		{Pattern: "POST /boats/{id}/call", Who: site.Desk, Page: p.call},
		{Pattern: "GET /customers/{id}/call", Who: site.Desk, Page: p.callCustomerForm},
		{Pattern: "POST /customers/{id}/call", Who: site.Desk, Page: p.callCustomer},
		{Pattern: "POST /replies/seen", Who: site.Desk, Page: p.seeToReply},
		{Pattern: "GET /replies", Who: site.Technician, Page: p.answers},
	}
}

// Package people is the desk's pages about a customer: how they are reached, what
// they have, what they were sent and said, and what of it can be changed. Requests
// and the shop go in, pages come out. It may import site, and acts through app
// only. The pages that customers open themselves are package customer.
package people

import "bellbuoy/cmd/bellbuoy/internal/web/site"

// pages are this wing's handlers.
type pages struct{ *site.Site }

// Routes are the addresses that this wing answers.
func Routes(s *site.Site) []site.Route {
	p := pages{s}
	return []site.Route{
		{Pattern: "GET /customers/{id}", Who: site.Technician, Page: p.customer},
		{Pattern: "GET /customers/{id}/edit", Who: site.Desk, Page: p.editForm},
		{Pattern: "POST /customers/{id}/edit", Who: site.Desk, Page: p.edit},
		{Pattern: "POST /customers/{id}/mails", Who: site.Desk, Page: p.chooseMails},
		{Pattern: "POST /customers/{id}/address", Who: site.Desk, Page: p.addressWorks},
		{Pattern: "POST /customers/{id}/link", Who: site.Desk, Page: p.sendOrRenewLink},
		{Pattern: "GET /calls/{n}/take-back", Who: site.Desk, Page: p.takeBackCallForm},
		{Pattern: "POST /calls/{n}/take-back", Who: site.Desk, Page: p.takeBackCall},
		{Pattern: "GET /emails/{n}", Who: site.Desk, Page: p.email},
	}
}

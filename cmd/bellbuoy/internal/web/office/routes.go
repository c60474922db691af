// Package office is the rest of the desk: imports, possible duplicates, and the
// preview and switch of emails. Requests and the shop go in, pages come out. It
// may import site, and acts through app only.
package office

import "bellbuoy/cmd/bellbuoy/internal/web/site"

// pages are this wing's handlers.
type pages struct{ *site.Site }

// Routes are the addresses that this wing answers.
func Routes(s *site.Site) []site.Route {
	p := pages{s}
	return []site.Route{
		{Pattern: "GET /rehearsal", Who: site.Desk, Page: p.rehearsal},
		{Pattern: "POST /rehearsal", Who: site.Owner, Page: p.switchMail},
		{Pattern: "POST /rehearsal/refused", Who: site.Desk, Page: p.judgeRefused},
		{Pattern: "GET /intake", Who: site.Desk, Page: p.intakeForm},
		{Pattern: "POST /intake", Who: site.Desk, Page: p.intake, Body: intakeBody},
		{Pattern: "GET /twins", Who: site.Desk, Page: p.twins},
		{Pattern: "POST /twins", Who: site.Desk, Page: p.editTwins},
	}
}

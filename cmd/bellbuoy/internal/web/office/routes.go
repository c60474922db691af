// Package office is the rest of the desk: imports, possible duplicates, the preview
// and switch of emails, accounts and the shop's settings. Requests and the shop go in, pages come out. It
// may import site, and acts through app only.
package office

import (
	"net/http"

	"bellbuoy/cmd/bellbuoy/internal/web/site"
	"bellbuoy/notify"
)

// pages are this wing's handlers.
type pages struct {
	*site.Site
	preview *site.Memo[[]notify.Rehearsal]
}

// Routes are the addresses that this wing answers.
func Routes(s *site.Site) []site.Route {
	p := pages{s, new(site.Memo[[]notify.Rehearsal])}
	return []site.Route{
		{Pattern: "GET /email", Who: site.Desk, Page: p.rehearsal},
		{Pattern: "POST /email", Who: site.Owner, Page: p.switchMail},
		{Pattern: "POST /email/refused", Who: site.Desk, Page: p.judgeRefused},
		{Pattern: "GET /import", Who: site.Desk, Page: p.intakeForm},
		{Pattern: "POST /import", Who: site.Desk, Page: p.intake, Body: intakeBody},
		{Pattern: "GET /changes", Who: site.Desk, Page: p.changes},
		{Pattern: "GET /import/tables", Who: site.Desk, Page: p.tables},
		{Pattern: "POST /import/tables", Who: site.Desk, Page: p.answerTables},
		{Pattern: "GET /import/returned", Who: site.Desk, Raw: http.HandlerFunc(p.returnedRows)},
		{Pattern: "GET /staff", Who: site.Owner, Page: p.staff},
		{Pattern: "POST /staff", Who: site.Owner, Page: p.editStaff},
		{Pattern: "GET /settings", Who: site.Owner, Page: p.settings},
		{Pattern: "GET /settings/{page}", Who: site.Owner, Page: p.settingsForm},
		{Pattern: "POST /settings/{page}", Who: site.Owner, Page: p.changeSettings},
		{Pattern: "GET /duplicates", Who: site.Desk, Page: p.duplicates},
		{Pattern: "POST /duplicates", Who: site.Desk, Page: p.changeDuplicates},
		{Pattern: "POST /duplicates/agreeing", Who: site.Desk, Page: p.mergeAgreeing},
	}
}

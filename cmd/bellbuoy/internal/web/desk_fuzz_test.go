package web_test

import (
	"net/http"
	"net/url"
	"slices"
	"testing"
)

// deskForms are the forms that the desk fills in by hand.
var deskForms = []string{
	"/boats/PERCH/record", "/boats/PERCH/job", "/boats/PERCH/book", "/boats/PERCH/call", "/boats/PERCH/edit", "/boats/PERCH/note", "/boats/PERCH/part",
	"/boats/PERCH/rules", "/boats/PERCH/owner", "/boats/PERCH/winter", "/sold", "/customers/W1/edit", "/customers/W1/mails", "/customers/W1/call", "/weeks", "/batteries", "/duplicates",
}

// FuzzDeskForms sends whatever the desk's forms may hold, names of fields too. No
// answer is a fault of ours.
func FuzzDeskForms(f *testing.F) {
	for i, form := range []string{
		"form=1&day=2026-11-25&note=x&hours-PERCH-E1=300&psi-PERCH-E1=178+176&rule-PERCH-E1=difference-14&finding=low&finding-part=PERCH-E1",
		"form=2&words=horn&minutes=90&price=240.00&day=2026-12-02", "do=book&day=2026-12-02&time=10:00&visit=" + url.QueryEscape(perchVisit),
		"outcome=reached&note=x&again=2026-12-01", "boat_name=Perch&make=A&year=2019&length=19&hin=QXB3K7T2E616", "was=&note=key", "kind=battery&label=B&in_service=2024-05-01",
		"rule=impeller&months=24&hours=200&part=PERCH-E1&why=x", "to=W2&day=2026-11-01", "agrees=yes",
		"form=3&name=A&email=a@b.example&boat_name=B&kind=runabout&water=fresh&berth=own-dock&sold_on=2026-11-20&warranty_days=30", "name=Ada&email=&phone=555&contact_by=phone",
		"mails=none", "outcome=no-answer", "technician=Ruth&from=2026-12-01&to=2026-12-02&do=away", "PERCH-B=1", "a=W1&b=W2&do=merge",
	} {
		f.Add(byte(i), form)
	}
	s := newTestShop(f).asDesk() // its server keeps no log
	cookie := s.hire("Inge", "desk")
	means := []int{http.StatusOK, http.StatusSeeOther, http.StatusBadRequest, http.StatusForbidden, http.StatusNotFound, http.StatusConflict, http.StatusUnprocessableEntity}
	f.Fuzz(func(t *testing.T, which byte, body string) {
		s.t = t
		form, err := url.ParseQuery(body)
		if err != nil {
			return
		}
		path := deskForms[int(which)%len(deskForms)]
		if a := s.as(cookie, "POST", path, form); !slices.Contains(means, a.Code) {
			t.Errorf("%s with %q answered %d: %s", path, body, a.Code, a.text())
		}
	})
}

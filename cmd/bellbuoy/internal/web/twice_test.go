package web_test

import (
	"net/http"
	"net/url"
	"strings"
	"testing"

	"bellbuoy/store/storetest"
)

// pressed is a form that somebody fills in and sends, and sends again.
type pressed struct {
	route string
	page  string     // where the form is, "" for one that is only sent
	to    string     // its address
	typed url.Values // over what the page shows
	as    string     // "" for the desk, "owner", or "customer"
	first func(s *testShop)
}

// answeredOtherwise are the routes that take a form and do not answer with a
// redirect, or not about the shop, and why.
var answeredOtherwise = map[string]string{
	"POST /sign-in":             "has tests of its own; a form kept through it is shown to be sent",
	"POST /sign-out":            "writes nothing but the end of the session",
	"POST /import":              "takes files, see TestIntakeShowsBeforeItTakes",
	"POST /import/tables":       "takes files, see TestTablesAreImportedOnThePage",
	"POST /duplicates/agreeing": "needs customers twice, see TestAllThatAgreeAreMerged",
	"POST /batteries":           "needs boats in storage, see TestBatteriesInStorage",
	"POST /owner/lapsed":        "needs a lapsed boat, see TestOwnerPutsOnTheCallList",
	"POST /email/refused":       "needs a refused email, see TestTheDeskSaysWhatRefusedAddressesAre",
	"POST /my/{token}/together": "needs two boats, see TestAllBoatsOnOneDay",
}

// TestEveryFormIsTakenOnce sends every form of the desk, the owner and the
// customers twice, as a double press does, or Back and a second press: the first is
// answered with a redirect (303), the second writes nothing.
func TestEveryFormIsTakenOnce(t *testing.T) {
	if testing.Short() {
		t.Skip("takes seconds")
	}
	routes := routeRoles(newTestShop(t).server)
	tried := make(map[string]bool)
	for _, f := range everyForm(t) {
		tried[f.route] = true
		t.Run(strings.TrimPrefix(f.route, "POST ")+" "+f.typed.Get("do")+f.typed.Get("kind"), func(t *testing.T) {
			s := newTestShop(t)
			if f.first != nil {
				f.first(s)
			}
			cookie := map[string]string{"": s.hire("Inge", "desk"), "owner": s.hire("Odile", "owner"), "customer": "none=none"}[f.as]
			at := func(path string) string {
				return strings.NewReplacer("MY", s.my("W2"), "STOP", s.stopPath("W2"), "VISIT", url.QueryEscape(s.nextVisit("HERON").ID), "PICK", url.QueryEscape(s.nextVisit("PERCH").ID)).Replace(path)
			}
			form := url.Values{}
			if f.page != "" {
				form = formTo(t, s.as(cookie, "GET", at(f.page), nil).code(http.StatusOK), at(f.to))
			}
			for name, values := range f.typed {
				form[name] = nil
				for _, v := range values {
					if v == "VISIT" {
						v = s.nextVisit("HERON").ID
					}
					form.Add(name, v)
				}
			}
			to := at(f.to)
			before := s.fingerprint()
			s.as(cookie, "POST", to, form).code(http.StatusSeeOther)
			once := s.fingerprint()
			if once == before {
				t.Error("the first press wrote nothing")
			}
			again := s.as(cookie, "POST", to, form)
			if twice := s.fingerprint(); twice != once {
				t.Error("the second press wrote")
			}
			if again.Code >= http.StatusInternalServerError {
				t.Errorf("the second press is answered %d", again.Code)
			}
		})
	}
	for route := range routes {
		if strings.HasPrefix(route, "POST ") && !tried[route] && answeredOtherwise[route] == "" {
			t.Errorf("%s is not tried", route)
		}
	}
}

func everyForm(t *testing.T) []pressed {
	row := func(route, page, to string, typed url.Values, first func(s *testShop)) pressed {
		return pressed{"POST " + route, page, to, typed, "", first}
	}
	recorded := func(s *testShop) {
		s.as(s.hire("Inge", "desk"), "POST", "/boats/HERON/record", url.Values{"form": {"one"}, "day": {"2026-11-20"}, "free0": {"impeller"}, "part0": {"HERON-E1"}}).code(http.StatusSeeOther)
	}
	called := func(s *testShop) {
		s.as(s.hire("Inge", "desk"), "POST", "/boats/HERON/call", url.Values{"form": {"two"}, "visit": {s.nextVisit("HERON").ID}, "outcome": {"thinks"}}).code(http.StatusSeeOther)
	}
	replied := func(s *testShop) {
		s.post(s.my("W2")+"/answer", url.Values{"kind": {"call"}, "note": {"After five"}}).code(http.StatusSeeOther)
	}
	sending := func(s *testShop) {
		if err := s.app.SwitchSending(t.Context(), s.now, "owner", true); err != nil {
			s.t.Fatal(err)
		}
	}
	retired := func(s *testShop) {
		storetest.RawAt(t, s.app.DB.Path(), "UPDATE components SET retired = '2026-11-01' WHERE id = 'HERON-E1'")
	}
	sold := saleForm()
	delete(sold, "form")
	all := []pressed{
		row("/boats/{id}/feed", "/boats/PERCH", "/boats/PERCH/feed", nil, nil),
		row("/boats/{id}/winter", "/boats/HERON", "/boats/HERON/winter", url.Values{"agrees": {"yes"}}, nil),
		row("/boats/{id}/record", "/boats/HERON/record?visit=VISIT", "/boats/HERON/record", url.Values{"sure": {"1"}}, nil),
		row("/boats/{id}/record", "/boats/HERON/reading", "/boats/HERON/record", url.Values{"kind": {"reading"}, "hours-HERON-E1": {"433"}, "sure": {"1"}}, nil),
		row("/boats/{id}/take-back", "/boats/HERON/take-back?day=2026-11-20", "/boats/HERON/take-back?day=2026-11-20", nil, recorded),
		row("/boats/{id}/owner/take-back", "/boats/LARK/owner/take-back", "/boats/LARK/owner/take-back", nil, nil),
		row("/boats/{id}/edit", "/boats/HERON/edit", "/boats/HERON/edit", url.Values{"berth": {"own-dock"}}, nil),
		row("/boats/{id}/note", "/boats/HERON", "/boats/HERON/note", url.Values{"note": {"Key under the mat"}}, nil),
		row("/boats/{id}/part", "/boats/PUFFIN/part?part_kind=battery", "/boats/PUFFIN/part", url.Values{"kind": {"save"}, "do": {"save"}, "label": {"House battery"}}, nil),
		row("/boats/{id}/part/back", "", "/boats/HERON/part/back", url.Values{"part": {"HERON-E1"}}, retired),
		row("/boats/{id}/rules", "/boats/HERON/rules?rule=coolant&component=HERON-E1", "/boats/HERON/rules", url.Values{"how": {"manual"}, "months": {"12"}, "source": {"the manual"}}, nil),
		row("/sold", "/sold", "/sold", sold, nil),
		row("/boats/{id}/owner", "/boats/HERON/owner", "/boats/HERON/owner", url.Values{"kind": {"ended"}, "what": {"gone"}, "day": {"2026-11-01"}}, nil),
		row("/boats/{id}/welcome", "", "/boats/PERCH/welcome", nil, sending),
		row("/customers/{id}/edit", "/customers/W2/edit", "/customers/W2/edit", url.Values{"phone": {"296-555-0777"}}, nil),
		row("/customers/{id}/mails", "/customers/W1", "/customers/W1/mails", url.Values{"mails": {"none"}}, nil),
		row("/customers/{id}/address", "", "/customers/W1/address", nil, func(s *testShop) {
			storetest.RawAt(t, s.app.DB.Path(), "INSERT INTO suppressions (address, reason, since) VALUES ('maren@example.com', '5.1.1', 1)")
		}),
		row("/customers/{id}/link", "/customers/W1", "/customers/W1/link", url.Values{"do": {"new"}}, nil),
		row("/customers/{id}/link", "/customers/W1", "/customers/W1/link", url.Values{"do": {"send"}}, sending),
		row("/calls/{n}/take-back", "/calls/1/take-back", "/calls/1/take-back", nil, called),
		row("/duplicates", "", "/duplicates", url.Values{"kind": {"customer"}, "keep": {"W1"}, "gone": {"W3"}, "do": {"merge"}}, nil),
		row("/weeks", "/weeks", "/weeks", url.Values{"do": {"absent"}, "from": {"2027-01-20"}, "to": {"2027-01-25"}}, nil),
		row("/weeks", "/weeks", "/weeks", url.Values{"do": {"close"}, "from": {"2027-01-20"}, "to": {"2027-01-20"}, "why": {"Stocktaking"}}, nil),
		row("/boats/{id}/book", "/boats/HERON/book?visit=VISIT", "/boats/HERON/book", url.Values{"do": {"book"}, "sure": {"1"}}, nil),
		row("/boats/{id}/job", "/boats/PERCH/job", "/boats/PERCH/job", url.Values{"words": {"New horn"}, "minutes": {"45"}}, nil),
		row("/boats/{id}/call", "/boats/HERON/call?visit=VISIT", "/boats/HERON/call", url.Values{"outcome": {"no-answer"}}, nil),
		row("/customers/{id}/call", "/customers/W2/call", "/customers/W2/call", url.Values{"outcome": {"settled"}}, nil),
		row("/day", "", "/day", url.Values{"visit": {perchVisit}, "boat": {"PERCH"}, "was": {"booked"}, "do": {"here"}, "back": {"/day"}}, func(s *testShop) { bookedInMay(s) }),
		row("/parts", "/parts?weeks=26", "/parts", url.Values{"do": {"order"}, "take0": {"1"}, "quantity0": {"2"}}, nil),
		row("/replies/seen", "", "/replies/seen", url.Values{"id": {"1"}}, replied),
	}
	for _, f := range []pressed{
		{route: "POST /my/{token}/answer", page: "MY/visit/VISIT", to: "MY/answer", typed: url.Values{"kind": {"decline"}, "visit": {"VISIT"}}},
		{route: "POST /my/{token}/contact", page: "MY", to: "MY/contact", typed: url.Values{"phone": {"296-555-0777"}}},
		{route: "POST /my/{token}/undo", to: "MY/undo", typed: url.Values{"id": {"1"}}, first: replied},
		{route: "POST /my/{token}/calendar/renew", page: "MY/calendar", to: "MY/calendar/renew"},
		{route: "POST /stop/{token}", page: "STOP", to: "STOP", typed: url.Values{"mails": {"none"}}},
	} {
		f.as = "customer"
		all = append(all, f)
	}
	return append(all,
		pressed{route: "POST /email", to: "/email", typed: url.Values{"do": {"on"}}, as: "owner"},
		pressed{route: "POST /staff", page: "/staff", to: "/staff", typed: url.Values{"do": {"save"}, "name": {"Bram"}, "role": {"desk"}, "password": {"four words in a row"}}, as: "owner"},
		pressed{route: "POST /settings/{page}", page: "/settings/reminders", to: "/settings/reminders", typed: url.Values{"reminders.gap_days": {"9"}}, as: "owner"},
		pressed{route: "POST /password", page: "/password", to: "/password", typed: url.Values{"old": {password}, "new": {"four words in a row"}}})
}

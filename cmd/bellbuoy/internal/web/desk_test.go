package web_test

import (
	"bytes"
	"mime/multipart"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/level"
	"bellbuoy/store"
	"bellbuoy/store/storetest"
)

// nextVisit is a boat's first planned visit.
func (s *testShop) nextVisit(boat string) schedule.Visit {
	s.t.Helper()
	plan, err := s.app.DB.Plan(s.t.Context(), boat)
	if err != nil {
		s.t.Fatal(err)
	}
	if len(plan.Visits) == 0 {
		s.t.Fatalf("boat %q has no visit", boat)
	}
	return plan.Visits[0]
}

// formOf is the name that a page gave its form.
func formOf(a answered) string {
	a.t.Helper()
	m := regexp.MustCompile(`name="form" value="([^"]+)"`).FindStringSubmatch(a.Body.String())
	if m == nil {
		a.t.Fatal("the page has no form")
	}
	return m[1]
}

func TestBookingFromTheWeek(t *testing.T) {
	s := newTestShop(t)
	cookie := s.hire("Inge", "desk")
	v := s.nextVisit("PERCH")
	form := url.Values{"visit": {v.ID}, "back": {"/"}, "do": {"book"}, "day": {"2027-04-13"}, "time": {"09:30"}}
	a := s.as(cookie, "POST", "/boats/PERCH/book", form).code(http.StatusSeeOther)
	if a.to() != "/" {
		t.Errorf("led back to %q", a.to())
	}
	s.send("GET", "/", nil, "Cookie", cookie+"; "+cookieOf(a)).says("Perch Pressure is booked for Tuesday, April 13, 2027 at 9:30 AM.")
	if b := s.nextVisit("PERCH").Booking; b == nil || b.Day != civil.Of(2027, 4, 13) || b.Minute != 9*60+30 {
		t.Fatalf("booking %+v", b)
	}
	s.as(cookie, "GET", "/?week=2027-W15", nil).says("1 booked", "Perch Pressure", "● 9:30")
	form.Set("was", "2027-04-13 09:30")
	form.Set("day", "2027-04-18")
	s.as(cookie, "POST", "/boats/PERCH/book", form).code(http.StatusUnprocessableEntity).says("Nobody is at work on Sunday, April 18, 2027.", "Yes, this is right")
	form.Set("sure", "1")
	s.as(cookie, "POST", "/boats/PERCH/book", form).code(http.StatusSeeOther)
	form.Set("was", "2027-04-18 09:30")
	form.Set("do", "unbook")
	s.as(cookie, "POST", "/boats/PERCH/book", form).code(http.StatusSeeOther)
	if s.nextVisit("PERCH").Booking != nil {
		t.Error("the booking stands after it was taken off")
	}
}

func TestBookingFormSaysWhatIsWrong(t *testing.T) {
	s := newTestShop(t)
	cookie := s.hire("Inge", "desk")
	v := s.nextVisit("PERCH")
	for _, c := range []struct {
		name string
		form url.Values
		code int
		says string
	}{
		{"a day that is past", url.Values{"do": {"book"}, "day": {"2026-11-24"}}, 422, "Choose a day from today on"},
		{"a day that is none", url.Values{"do": {"book"}, "day": {"13.4.2027"}}, 422, "Write it like 2027-04-12"},
		{"a time that is none", url.Values{"do": {"book"}, "day": {"2027-04-13"}, "time": {"half nine"}}, 422, "not a time of day"},
		{"a week that is past", url.Values{"do": {"week"}, "week": {"2026-W40"}}, 422, "Choose a week from this one on"},
		{"nothing to do", url.Values{"do": {""}}, 400, "press one of its buttons"},
	} {
		t.Run(c.name, func(t *testing.T) {
			c.form.Set("visit", v.ID)
			s.as(cookie, "POST", "/boats/PERCH/book", c.form).code(c.code).says(c.says)
		})
	}
	s.as(cookie, "GET", "/boats/PERCH/book?visit=PERCH.lay-up.1999", nil).code(http.StatusNotFound).says("no longer in the plan")
}

// TestWeekChosenByHand keeps a visit where the desk put it, also when
// everything is planned and fitted again.
func TestWeekChosenByHand(t *testing.T) {
	s := newTestShop(t)
	cookie := s.hire("Inge", "desk")
	v := s.nextVisit("PERCH")
	week := v.Week + 2
	form := url.Values{"visit": {v.ID}, "do": {"week"}, "week": {week.String()}}
	s.as(cookie, "POST", "/boats/PERCH/book", form).code(http.StatusSeeOther)
	storetest.RawAt(t, s.app.DB.Path(), "INSERT INTO dirty (boat_id, version) SELECT id, 1 FROM boats WHERE true ON CONFLICT DO NOTHING")
	if _, err := s.app.Settle(t.Context(), s.now, s.today(), nil); err != nil {
		t.Fatal(err)
	}
	if got := s.nextVisit("PERCH").Week; got != week {
		t.Errorf("in week %s, want %s", got, week)
	}
	form.Set("do", "release")
	s.as(cookie, "POST", "/boats/PERCH/book", form).code(http.StatusSeeOther)
	if pins, err := s.app.DB.Pins(t.Context(), nil); err != nil || len(pins) > 0 {
		t.Errorf("pins %v, error %v", pins, err)
	}
}

func TestRecordingChangesThePlan(t *testing.T) {
	s := newTestShop(t)
	cookie := s.hire("Ruth", "technician")
	v := s.nextVisit("PERCH")
	page := s.as(cookie, "GET", "/boats/PERCH/record?visit="+url.QueryEscape(v.ID), nil).code(http.StatusOK)
	form := url.Values{
		"form": {formOf(page)}, "visit": {v.ID}, "day": {"2026-11-25"}, "job0": {"1"}, "amount0": {"184.00"},
		"hours-PERCH-E1": {"300"}, "psi-PERCH-E1": {"178 176 179 140"}, "rule-PERCH-E1": {"difference-14"},
		"finding": {"Cylinder 4 is low"}, "finding-service": {"compression-test"}, "finding-part": {"PERCH-E1"}, "note": {"Two gaskets."},
	}
	saved := s.as(cookie, "POST", "/boats/PERCH/record", form).code(http.StatusSeeOther)
	s.send("GET", saved.to(), nil, "Cookie", cookie+"; "+cookieOf(saved)).code(http.StatusOK).
		says("On record: Perch Pressure, November 25, 2026", "difference is 39 psi, the limit 14", "cylinder 4", "now due December 25, 2026", "What comes next")
	boat := s.as(cookie, "GET", "/boats/PERCH", nil).code(http.StatusOK).
		says("$184.00", "Two gaskets.", "Compression 178, 176, 179, 140 psi", "Cylinder 4 is low", "Ruth recorded work: ", "Ruth read the hour meter: Port engine")
	boat.silent("Make a new address")
	twice := s.as(cookie, "POST", "/boats/PERCH/record", form).code(http.StatusSeeOther)
	s.send("GET", twice.to(), nil, "Cookie", cookie+"; "+cookieOf(twice)).says("This was saved before; nothing is on file twice.")
	s.as(cookie, "GET", "/boats/PERCH/record?visit="+url.QueryEscape(s.nextVisit("PERCH").ID), nil).
		says("300 h on Nov 25, 2026")
}

// TestAFindingAloneIsShown: nothing was done, and what was found leads to a page that
// names it.
func TestAFindingAloneIsShown(t *testing.T) {
	s := newTestShop(t)
	desk := s.hire("Inge", "desk")
	form := formTo(t, s.as(desk, "GET", "/boats/HERON/record", nil), "/boats/HERON/record")
	form.Set("finding", "Shaft seal weeps")
	form.Set("finding-service", "impeller")
	form.Set("finding-part", "HERON-E1")
	s.as(desk, "GET", s.as(desk, "POST", "/boats/HERON/record", form).code(http.StatusSeeOther).to(), nil).code(http.StatusOK).says("Follow-up: Shaft seal weeps, by ")
}

func TestRecordFormSaysWhatIsWrong(t *testing.T) {
	s := newTestShop(t)
	cookie := s.hire("Ruth", "technician")
	for _, c := range []struct {
		name string
		form url.Values
		says string
	}{
		{"nothing", url.Values{}, "Nothing is ticked or filled in"},
		{"tomorrow", url.Values{"day": {"2026-11-26"}, "free0": {"impeller"}}, "still to come"},
		{"a meter that runs back", url.Values{"hours-PERCH-E1": {"10"}}, "10 h on 2026-11-25 is below"},
		{"hours in words", url.Values{"hours-PERCH-E1": {"many"}}, "Write them like 188.5"},
		{"an amount in words", url.Values{"free0": {"impeller"}, "freeamount0": {"much"}}, "Write it like 184.00"},
		{"a service nobody knows", url.Values{"free0": {"exorcism"}}, "not in the catalog"},
		{"pressure in words", url.Values{"psi-PERCH-E1": {"150 high"}}, "want a pressure in psi"},
		{"a finding without its work", url.Values{"finding": {"a noise"}}, "choose the work that settles it"},
		{"a look back in time", url.Values{"finding": {"a noise"}, "finding-service": {"impeller"}, "finding-due": {"2026-11-01"}}, "choose a day after"},
	} {
		t.Run(c.name, func(t *testing.T) {
			c.form.Set("form", c.name)
			s.as(cookie, "POST", "/boats/PERCH/record", c.form).code(http.StatusUnprocessableEntity).says(c.says)
		})
	}
	f, err := s.app.DB.Facts(t.Context(), "PERCH")
	if err != nil {
		t.Fatal(err)
	}
	for _, r := range f.Records {
		if r.Day == s.today() {
			t.Errorf("record %+v of a form that was refused", r)
		}
	}
}

// TestCallListRests calls Piotr, who wants to be called, and wants him back when
// the outcome says so.
func TestCallListRests(t *testing.T) {
	s := newTestShop(t)
	s.now = civil.Of(2027, 4, 20).At(10, 0, s.app.Config.Zone())
	if _, err := s.app.Settle(t.Context(), s.now, s.today(), nil); err != nil {
		t.Fatal(err)
	}
	cookie := s.hire("Inge", "desk")
	s.as(cookie, "GET", "/calls", nil).code(http.StatusOK).says("Piotr Dunmarrow", "296-555-0122", "wants to be called", "not called yet")
	v := s.nextVisit("HERON")
	call := "/boats/HERON/call?visit=" + url.QueryEscape(v.ID)
	s.as(cookie, "GET", call, nil).code(http.StatusOK).says("Piotr Dunmarrow", "Lindrake Boat Works, about Blue Heron", "Does that suit you")
	for _, outcome := range []string{store.CallNoAnswer, store.CallMessage} {
		s.as(cookie, "POST", call, url.Values{"outcome": {outcome}, "back": {"/calls"}}).code(http.StatusSeeOther)
	}
	round := s.as(cookie, "GET", "/calls", nil)
	if strings.Contains(round.text(), "not called yet Piotr") {
		t.Error("Piotr is on the round again although a message was left")
	}
	s.now = s.now.AddDate(0, 0, 3)
	cookie = s.hire("Inge", "desk")
	s.as(cookie, "GET", "/calls", nil).says("Piotr Dunmarrow", "left a message")
	s.as(cookie, "POST", call, url.Values{"outcome": {"shouted"}}).code(http.StatusBadRequest)
}

func TestSheetCarriesWhatATechnicianNeeds(t *testing.T) {
	s := newTestShop(t)
	v := s.nextVisit("PERCH")
	if err := storetest.Writer(t, s.app.DB).AddVisitNote(t.Context(), s.now, store.VisitNote{Actor: "Inge", BoatID: "PERCH", VisitID: v.ID, Words: "Hard to start when warm"}); err != nil {
		t.Fatal(err)
	}
	s.as(s.hire("Ruth", "technician"), "GET", "/boats/PERCH/sheet?visit="+url.QueryEscape(v.ID), nil).code(http.StatusOK).
		says("Perch Pressure", "Lindrake Cove, on its trailer at the owner's home, 12 Kedge Lane", "HIN QXB3K7T2E616", "296-555-0111", "Hard to start when warm",
			"Cautions A ", "Port engine Hours", "Compression, psi by cylinder", "Jobs, in working order", "engine maker's manual")
}

// TestTimeOffTakesHours also wants visits to move out of a week that closes.
func TestTimeOffTakesHours(t *testing.T) {
	s := newTestShop(t)
	cookie := s.hire("Inge", "desk")
	w := civil.Of(2027, 3, 1).Week()
	hours := func() int {
		weeks, err := s.app.Capacity(t.Context(), w, w)
		if err != nil {
			t.Fatal(err)
		}
		return weeks[0].Total()[level.Labor]
	}
	whole := hours()
	s.as(cookie, "POST", "/weeks", url.Values{"do": {"absent"}, "technician": {"Inge"}, "from": {w.Monday().String()}, "to": {(w.Monday() + 1).String()}}).code(http.StatusSeeOther)
	if got := hours(); got != whole*3/5 {
		t.Errorf("%d minutes with two of five days off, want three fifths of %d", got, whole)
	}
	s.as(cookie, "POST", "/weeks", url.Values{"do": {"close"}, "from": {(w.Monday() + 2).String()}, "why": {"boat show"}}).code(http.StatusSeeOther)
	s.as(cookie, "GET", "/weeks", nil).says("Inge is off until Mar 2, 2027", "Closed: boat show")
	s.as(cookie, "POST", "/weeks", url.Values{"do": {"open"}, "from": {(w.Monday() + 2).String()}}).code(http.StatusSeeOther)
	s.as(cookie, "POST", "/weeks", url.Values{"do": {"present"}, "id": {"1"}}).code(http.StatusSeeOther)
	if got := hours(); got != whole {
		t.Errorf("%d minutes after both were taken back, want %d", got, whole)
	}
	s.as(cookie, "POST", "/weeks", url.Values{"do": {"absent"}, "technician": {"Inge"}, "from": {"2027-03-05"}, "to": {"2027-03-01"}}).
		code(http.StatusUnprocessableEntity).says("the last day is before the first")
}

func TestMailSwitch(t *testing.T) {
	s := newTestShop(t)
	cookie := s.hire("Odile", "owner")
	s.as(cookie, "GET", "/email?days=31", nil).code(http.StatusOK).says("Sending is off", "Nothing is sent to anyone", "Switch sending on", "if sending were switched on today")
	s.as(cookie, "POST", "/email", url.Values{"do": {"on"}}).code(http.StatusSeeOther)
	s.as(cookie, "GET", "/email", nil).says("Sending is on").silent("switched on today", "would go out")
	s.as(s.hire("Inge", "desk"), "GET", "/email", nil).says("Only the owner can switch sending").silent("Switch sending off")
}

func TestRevokedCalendarAddress(t *testing.T) {
	s := newTestShop(t)
	cookie := s.hire("Inge", "desk")
	old, err := s.app.FeedURL(t.Context(), "boat", "PERCH")
	if err != nil {
		t.Fatal(err)
	}
	s.as(cookie, "POST", "/boats/PERCH/feed", formTo(t, s.as(cookie, "GET", "/boats/PERCH", nil), "/boats/PERCH/feed")).code(http.StatusSeeOther)
	u, err := url.Parse(old)
	if err != nil {
		t.Fatal(err)
	}
	s.get(u.Path).code(http.StatusGone)
	s.as(cookie, "GET", "/boats/PERCH", nil).silent(old).says("Inge made the boat's calendar address new")
}

// upload sends files as the intake's form does.
func (s *testShop) upload(cookie string, files map[string][]byte) answered {
	s.t.Helper()
	var body bytes.Buffer
	w := multipart.NewWriter(&body)
	for name, data := range files {
		p, err := w.CreateFormFile("files", name)
		if err != nil {
			s.t.Fatal(err)
		}
		p.Write(data)
	}
	w.Close()
	r := httptest.NewRequest("POST", "/import", &body)
	r.Header.Set("Content-Type", w.FormDataContentType())
	r.Header.Set("Sec-Fetch-Site", "same-origin")
	r.Header.Set("Cookie", cookie)
	rec := httptest.NewRecorder()
	s.site.ServeHTTP(rec, r)
	return answered{rec, s.t}
}

func TestIntakeShowsBeforeItTakes(t *testing.T) {
	s := emptyTestShop(t, shopSettings)
	cookie := s.hire("Inge", "desk")
	files := make(map[string][]byte)
	for _, n := range workedFiles {
		data, err := os.ReadFile(filepath.Join("..", "..", "..", "..", "testdata", "worked", n))
		if err != nil {
			t.Fatal(err)
		}
		files[n] = data
	}
	page := s.as(cookie, "GET", s.upload(cookie, files).code(http.StatusSeeOther).to(), nil).code(http.StatusOK).says("This is what would happen", "boats.csv")
	s.as(cookie, "GET", "/boats/PERCH", nil).code(http.StatusNotFound)
	held := regexp.MustCompile(`name="held" value="([^"]+)"`).FindStringSubmatch(page.Body.String())
	if held == nil {
		t.Fatal("the files are not held")
	}
	done := s.as(cookie, "POST", "/import", url.Values{"held": {held[1]}}).code(http.StatusSeeOther)
	s.send("GET", done.to(), nil, "Cookie", cookie+"; "+cookieOf(done)).says("Imported: ", "0 unchanged")
	s.as(cookie, "GET", "/boats/PERCH", nil).code(http.StatusOK).says("Perch Pressure", "Planned")
	before := s.fingerprint()
	s.as(cookie, "POST", "/import", url.Values{"held": {held[1]}}).code(http.StatusSeeOther)
	if s.fingerprint() != before {
		t.Error("the second press imported again")
	}
	s.as(cookie, "POST", "/import", url.Values{"held": {"other"}}).code(http.StatusConflict).says("has expired")
}

func TestIntakeNamesFaultsByLine(t *testing.T) {
	s := emptyTestShop(t, shopSettings)
	cookie := s.hire("Inge", "desk")
	bad := "customer_id,name,email,phone,address,city,region,postal_code,contact_by\nW1,Maren,not-an-address,,,,,,\n"
	s.as(cookie, "GET", s.upload(cookie, map[string][]byte{"customers.csv": []byte(bad)}).code(http.StatusSeeOther).to(), nil).code(http.StatusOK).
		says("Not imported", "customers.csv, line 2, email", "Nothing was changed").silent("Take these in")
	s.as(cookie, "GET", s.upload(cookie, map[string][]byte{"boat.csv": []byte("x\n")}).to(), nil).says("did you mean")
}

// TestWeeksShowTheYard beside the hours, if the settings say what it has.
func TestWeeksShowTheYard(t *testing.T) {
	s := newTestShop(t)
	s.as(s.hire("Inge", "desk"), "GET", "/weeks", nil).code(http.StatusOK).silent("Lifts", ">Yard<", "limited by the yard")
	s = emptyTestShop(t, shopSettings+`
[yard]
lifts = [1, 1, 1, 1, 1, 0, 0]
crew_hours = [8, 8, 8, 8, 8, 0, 0]
[[yard.work]]
haul = 30
launch = 45
`)
	s.intake(workedFolder(t), workedFiles...)
	s.as(s.hire("Inge", "desk"), "GET", "/weeks", nil).code(http.StatusOK).says("limited by the yard", "1 of 5", "0.8 h of 40 h")
}

// TestWinterWorkIsAsked on the page of a boat that winters with us: pressed, it is
// planned, and pressed again it is not. A boat kept elsewhere is not asked about.
func TestWinterWorkIsAsked(t *testing.T) {
	s := twelveBoats(t, civil.Of(2026, 7, 1))
	desk := s.hire("Inge", "desk")
	impeller := schedule.Record{BoatID: "B03", ComponentID: "B03-E1", Day: civil.Of(2023, 10, 1), Service: "impeller", By: schedule.ByShop}
	work := store.Work{BoatID: "B03", Records: []schedule.Record{impeller}}
	if _, err := s.app.Record(t.Context(), s.now, "test", "impeller", &work, true); err != nil {
		t.Fatal(err)
	}
	s.as(desk, "GET", "/boats/B03", nil).says("goes with the winterization", "The owner agrees to winter work").silent("planned for November to March")
	s.as(desk, "POST", "/boats/B03/winter", url.Values{"agrees": {"yes"}}).code(http.StatusSeeOther)
	s.as(desk, "GET", "/boats/B03", nil).says("planned for November to March", "No winter work", "Winter work")
	if !slices.ContainsFunc(s.plan("B03").Visits, func(v schedule.Visit) bool { return v.Kind == schedule.Winter }) {
		t.Error("nothing is planned for the winter")
	}
	s.as(desk, "POST", "/boats/B03/winter", url.Values{"agrees": {"no"}}).code(http.StatusSeeOther)
	if slices.ContainsFunc(s.plan("B03").Visits, func(v schedule.Visit) bool { return v.Kind == schedule.Winter }) {
		t.Error("winter work is planned against the owner's word")
	}
	worked := newTestShop(t)
	worked.as(worked.hire("Inge", "desk"), "GET", "/boats/PERCH", nil).silent("winter work")
}

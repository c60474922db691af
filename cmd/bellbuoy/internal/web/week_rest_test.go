package web_test

import (
	"fmt"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/store/storetest"
)

// twelveBoats is a shop of one technician with twelve outboards of one owner that
// were never winterized, on a day.
func twelveBoats(t *testing.T, day civil.Day) *testShop {
	s := emptyTestShop(t, shopSettings)
	boats := "boat_id,customer_id,hin,name,make,model,year,kind,length_ft,water,place,berth,sold_on,warranty_until\n"
	parts := "component_id,boat_id,kind,label,propulsion,stroke,fuel,cooling,in_service,expires\n"
	for i := range 12 {
		boats += fmt.Sprintf("B%02d,C1,,,Brackenhull,Reedpike,2016,fishing,19,fresh,Lindrake Cove,shop-outside,,\n", i)
		parts += fmt.Sprintf("B%02d-E1,B%02d,engine,Engine,outboard,four,gasoline,raw-water,2016-05-01,\n", i, i)
	}
	dir := t.TempDir()
	for name, text := range map[string]string{
		"customers.csv":  "customer_id,name,email,phone,address,city,region,postal_code,contact_by\nC1,Maren,maren@example.com,555-0142,,,,,email\n",
		"boats.csv":      boats,
		"components.csv": parts,
	} {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	s.now = day.At(10, 0, s.app.Config.Zone())
	s.intake(dir, "customers.csv", "boats.csv", "components.csv")
	return s
}

// TestAPrintedWeekSaysWhatItLeavesOut: on paper nobody can follow the link to
// the rest. The print for the wall leaves nothing out.
func TestAPrintedWeekSaysWhatItLeavesOut(t *testing.T) {
	s := twelveBoats(t, civil.Of(2026, 11, 4))
	desk := s.hire("Inge", "desk")
	page := s.as(desk, "GET", "/", nil).says("12 overdue", "4 more of these")
	css := s.get(strings.Split(strings.Split(page.Body.String(), `rel="stylesheet" href="`)[1], `"`)[0]).code(200).Body.String()
	_, print, _ := strings.Cut(css, "@media print")
	if hidden, _, _ := strings.Cut(print, "display: none"); strings.Contains(hidden, ".more") {
		t.Error("what is left out is not said in print")
	}
	whole := s.as(desk, "GET", "/?all=1&week="+s.today().Week().String(), nil).silent("more of these").Body.String()
	if n := strings.Count(whole, `class="boat"`); n != 12 {
		t.Errorf("the whole week has %d rows, want 12", n)
	}
}

// TestTheDueListSaysWhatWillBeLate: how many visits will miss their deadline and
// how many hours which weeks lack stand on the due list and on the weeks page, by
// the plan as it is now; each has owner, phone and what to do on a page of its own.
func TestTheDueListSaysWhatWillBeLate(t *testing.T) {
	s := twelveBoats(t, civil.Of(2026, 10, 5)) // a week's hours before the deadline of October 10
	desk := s.hire("Inge", "desk")
	var late []string
	for i := range 12 {
		for _, v := range s.plan(fmt.Sprintf("B%02d", i)).Visits {
			if v.Kind == schedule.LayUp && (v.Week == 0 || v.Week.Monday() > v.Deadline) {
				late = append(late, v.ID)
			}
		}
	}
	if len(late) < 2 {
		t.Fatalf("%d visits are late: the test proves too little", len(late))
	}
	says := fmt.Sprintf("%d visits will miss their deadline. The week of Oct 5 is ", len(late))
	s.as(desk, "GET", "/", nil).says(says, "h short. See which")
	s.as(desk, "GET", "/weeks", nil).says(says)
	page := s.as(desk, "GET", "/late", nil).says(says, "Maren · 555-0142", "Call note").Body.String()
	if n := strings.Count(page, `class="boat"`); n != len(late) {
		t.Errorf("%d visits are named, want %d", n, len(late))
	}
	// What the desk has decided needs no decision any more.
	boat, _, _ := strings.Cut(late[0], ".")
	s.as(desk, "POST", "/boats/"+boat+"/book", url.Values{"visit": {late[0]}, "do": {"book"}, "day": {"2026-10-16"}, "over": {"1"}, "sure": {"1"}}).code(http.StatusSeeOther)
	s.as(desk, "GET", "/late", nil).says(fmt.Sprintf("%d visits will miss", len(late)-1)).silent(says)
}

// TestAWeekAfterTheDeadline: what the desk puts into a week after its deadline stays
// there and stands among what will be late, with why and where; a week that is kept for
// a customer who asked for later is let go, and the history says so.
func TestAWeekAfterTheDeadline(t *testing.T) {
	s := newTestShop(t)
	desk := s.hire("Inge", "desk")
	v := s.nextVisit("PERCH")
	week := v.Deadline.Week() + 1
	s.as(desk, "GET", "/late", nil).silent("In a week that the desk chose")
	s.as(desk, "POST", "/boats/PERCH/book", url.Values{"visit": {v.ID}, "do": {"week"}, "week": {week.String()}}).code(http.StatusSeeOther)
	day := s.app.Config.Format().ShortMonthDay(week.Monday())
	s.as(desk, "GET", "/late", nil).says("1 visit will miss its deadline", "In a week that the desk chose", "planned for the week of "+day).silent("the desk chose this week")
	s.as(desk, "GET", "/", nil).says("1 visit will miss its deadline")

	storetest.RawAt(t, s.app.DB.Path(), "UPDATE pins SET by_customer = 1")
	storetest.RawAt(t, s.app.DB.Path(), "INSERT INTO dirty (boat_id, version) SELECT id, 1 FROM boats WHERE true ON CONFLICT DO NOTHING")
	if _, err := s.app.Settle(t.Context(), s.now, s.today(), nil); err != nil {
		t.Fatal(err)
	}
	s.as(desk, "GET", "/late", nil).silent("In a week that the desk chose")
	s.as(desk, "GET", "/changes?about=weeks", nil).says("bellbuoy", "let the week go that was kept when the owner asked for later, as it comes after the deadline",
		"the week of "+s.app.Config.Format().Date(week.Monday()))
}

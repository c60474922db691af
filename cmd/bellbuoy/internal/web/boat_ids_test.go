package web_test

import (
	"html"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"bellbuoy/cmd/bellbuoy/internal/app"
	"bellbuoy/schedule/civil"
	"bellbuoy/store/imports"
)

// TestEveryBoatCanBeOpened: another program's ids hold what means something in an
// address; each link of the due list and of the search leads to its boat. An id
// that no address can hold is not taken in.
func TestEveryBoatCanBeOpened(t *testing.T) {
	s := emptyTestShop(t, shopSettings)
	s.now = civil.Of(2026, 9, 24).At(10, 0, s.app.Config.Zone())
	ids := []string{"A#1", "B?2", "C%3", "D.4", "E%2F", "F&6", "G+7", "..H"}
	boats := "boat_id,customer_id,hin,name,make,model,year,kind,length_ft,water,place,berth,sold_on,warranty_until\n"
	parts := "component_id,boat_id,kind,label,propulsion,stroke,fuel,cooling,in_service,expires\n"
	for _, id := range ids {
		boats += id + ",C1,,Boat " + id[:1] + id[len(id)-1:] + ",Brackenhull,Reedpike,2016,fishing,19,fresh,Lindrake Cove,shop-outside,,\n"
		parts += id + "-E1," + id + ",engine,Engine,outboard,four,gasoline,raw-water,2016-05-01,\n"
	}
	dir := t.TempDir()
	write := func(name, text string) {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	write("customers.csv", "customer_id,name,email,phone,address,city,region,postal_code,contact_by\nC1,Maren,maren@example.com,,,,,,email\n")
	write("boats.csv", boats)
	write("components.csv", parts)
	s.intake(dir, "customers.csv", "boats.csv", "components.csv")
	desk := s.hire("Inge", "desk")
	for _, page := range []string{"/?week=" + s.nextVisit("D.4").Week.String() + "&part=penciled", "/search?q=maren"} {
		a := s.as(desk, "GET", page, nil)
		if a.Code == http.StatusSeeOther { // all are one customer's
			a = s.as(desk, "GET", a.to(), nil)
		}
		links := regexp.MustCompile(`href="(/boats/[^"]*)"`).FindAllStringSubmatch(a.Body.String(), -1)
		if len(links) < len(ids) {
			t.Errorf("%s has %d links for %d boats", page, len(links), len(ids))
		}
		for _, l := range links {
			to := html.UnescapeString(l[1])
			u, err := url.Parse("https://x" + to)
			if err != nil {
				t.Fatal(err)
			}
			s.as(desk, "GET", to, nil).code(http.StatusOK).says("Boat ")
			if u.Fragment != "" {
				t.Errorf("%s is cut at #", to)
			}
		}
	}
	dots := imports.File{Name: "boats.csv", R: strings.NewReader(strings.ReplaceAll(boats, "..H", ".."))}
	report, _, err := s.app.Intake(t.Context(), s.now, []imports.File{dots}, app.IntakeBy("test"))
	if err == nil || len(report.Faults) != 1 || !strings.Contains(report.Faults[0].What, "no page can have it as its address") {
		t.Errorf("a boat without an address is taken in: %v, faults %v", err, report.Faults)
	}
}

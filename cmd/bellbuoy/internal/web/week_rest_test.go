package web_test

import (
	"bellbuoy/schedule/civil"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// TestAPrintedWeekSaysWhatItLeavesOut: on paper nobody can follow the link to
// the rest.
func TestAPrintedWeekSaysWhatItLeavesOut(t *testing.T) {
	s := emptyTestShop(t, shopSettings)
	boats := "boat_id,customer_id,hin,name,make,model,year,kind,length_ft,water,place,berth,sold_on,warranty_until\n"
	parts := "component_id,boat_id,kind,label,propulsion,stroke,fuel,cooling,in_service,expires\n"
	for i := range 12 {
		boats += fmt.Sprintf("B%02d,C1,,,Brackenhull,Reedpike,2016,fishing,19,fresh,Larkspur Cove,shop-outside,,\n", i)
		parts += fmt.Sprintf("B%02d-E1,B%02d,engine,Engine,outboard,four,gasoline,raw-water,2016-05-01,\n", i, i)
	}
	dir := t.TempDir()
	for name, text := range map[string]string{
		"customers.csv":  "customer_id,name,email,phone,address,city,region,postal_code,contact_by\nC1,Maren,maren@example.com,,,,,,email\n",
		"boats.csv":      boats,
		"components.csv": parts,
	} {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	s.now = civil.Of(2026, 11, 4).At(10, 0, s.house.Config.Zone())
	s.intake(dir, "customers.csv", "boats.csv", "components.csv")
	page := s.as(s.hire("Inge", "desk"), "GET", "/", nil).says("Overdue 12", "4 more of these")
	css := s.get(strings.Split(strings.Split(page.Body.String(), `rel="stylesheet" href="`)[1], `"`)[0]).code(200).Body.String()
	_, print, _ := strings.Cut(css, "@media print")
	if hidden, _, _ := strings.Cut(print, "display: none"); strings.Contains(hidden, ".more") {
		t.Error("what is left out is not said in print")
	}
}

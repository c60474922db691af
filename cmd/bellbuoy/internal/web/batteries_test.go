package web_test

import (
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"testing"
)

// withBatteries adds two stored boats and one at her own dock, winterized 40 days
// ago: flooded batteries are late by ten days, the AGM one is not due.
func (s *testShop) withBatteries() {
	s.t.Helper()
	dir := s.t.TempDir()
	day := (s.today() - 40).String()
	for name, text := range map[string]string{
		"customers.csv": "customer_id,name,email,phone,address,city,region,postal_code,contact_by\nC9,Ottoline Marsh,,296-555-0188,1 Quay,Lindrake Cove,Tamarwick,00412,phone\n",
		"boats.csv": "boat_id,customer_id,hin,name,make,model,year,kind,length_ft,water,place,berth,sold_on,warranty_until\n" +
			"SAND,C9,,Sanderling,Brackenhull,Reedpike 17,2014,fishing,17,fresh,Lindrake Cove,shop-inside,2022-05-02,\n" +
			"TURN,C9,,Turnstone,Pellimore,Harborcrest 30,2019,cruiser,30,fresh,Lindrake Cove,shop-outside,2022-05-02,\n" +
			"DOCK,C9,,Dockside,Brackenhull,Reedpike 19,2015,fishing,19,fresh,Lindrake Cove,own-dock,2022-05-02,\n",
		"components.csv": "component_id,boat_id,kind,label,propulsion,stroke,fuel,cooling,in_service,expires,made,battery\n" +
			"SAND-BT,SAND,battery,Starting battery,,,,,,,,flooded\n" +
			"TURN-BT,TURN,battery,Starting battery,,,,,,,,agm\nTURN-BH,TURN,battery,House battery,,,,,,,,\n" +
			"DOCK-BT,DOCK,battery,Starting battery,,,,,,,,flooded\n",
		"history.csv": "boat_id,component_id,day,service,hours,amount,by,note\n" +
			"SAND,," + day + ",lay-up,,259.00,shop,\nTURN,," + day + ",lay-up,,329.00,shop,\nDOCK,," + day + ",lay-up,,259.00,shop,\n",
		"readings.csv": "component_id,day,hours,read_by\n",
	} {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o600); err != nil {
			s.t.Fatal(err)
		}
	}
	s.intake(dir, "customers.csv", "boats.csv", "components.csv", "history.csv", "readings.csv")
}

func TestBatteriesPageIsValid(t *testing.T) {
	s := emptyTestShop(t, shopSettings)
	s.withBatteries()
	cookie := s.hire("Inge", "technician")
	dir := t.TempDir()
	if err := os.WriteFile(filepath.Join(dir, "batteries.html"), s.as(cookie, "GET", "/batteries", nil).Body.Bytes(), 0o600); err != nil {
		t.Fatal(err)
	}
	validHTML(t, dir, htmlConfig)
}

// TestBatteriesInStorage: the week says how many boats, the list names the
// batteries by place in the yard, and what is ticked leaves both.
func TestBatteriesInStorage(t *testing.T) {
	s := emptyTestShop(t, shopSettings)
	s.withBatteries()
	cookie := s.hire("Inge", "technician")
	s.as(cookie, "GET", "/", nil).says("Charge batteries: 2 boats")
	s.as(cookie, "GET", "/batteries", nil).code(http.StatusOK).
		says("in our storage, inside 1 battery", "SAND-BT Sanderling", "in our storage, outside 1 battery", "TURN-BH Turnstone", "explosive gas").
		silent("TURN-BT", "DOCK-BT")
	a := s.as(cookie, "POST", "/batteries", url.Values{"charged:SAND-BT": {"on"}, "charged:DOCK-BT": {"on"}, "charged:NONE": {"on"}})
	if a.code(http.StatusSeeOther).to() != "/batteries" {
		t.Errorf("goes on to %q", a.to())
	}
	s.as(cookie, "GET", "/batteries", nil).says("TURN-BH").silent("SAND-BT")
	s.as(cookie, "GET", "/", nil).says("Charge batteries: 1 boat")
	// The form sent twice writes nothing twice.
	s.as(cookie, "POST", "/batteries", url.Values{"charged:SAND-BT": {"on"}})
	f, err := s.app.DB.Facts(t.Context(), "SAND")
	if err != nil {
		t.Fatal(err)
	}
	n := 0
	for _, r := range f.Records {
		if r.Service == "battery-charge" {
			n++
		}
	}
	if n != 1 {
		t.Errorf("%d charges on record, want 1", n)
	}
	s.as(cookie, "POST", "/batteries", nil).code(http.StatusSeeOther)
	s.as(cookie, "GET", "/batteries?week=nonsense", nil).code(http.StatusBadRequest)
}

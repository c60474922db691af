package web_test

import (
	"net/http"
	"net/url"
	"strings"
	"testing"

	"bellbuoy/schedule"
)

// dueOf is the first due item of a rule in a boat's plan.
func (s *testShop) dueOf(boatID, rule string) schedule.DueItem {
	s.t.Helper()
	for _, it := range s.plan(boatID).Items {
		if it.Rule == rule {
			return it
		}
	}
	s.t.Fatalf("%s is not in the plan of %s", rule, boatID)
	return schedule.DueItem{}
}

// TestSaleVouchesForWhatItNames: one ticked job, or a remark alone, says
// nothing about the others; "reconditioned throughout" is a tick of its own.
func TestSaleVouchesForWhatItNames(t *testing.T) {
	for _, c := range []struct {
		name   string
		change func(url.Values)
		basis  schedule.Basis
	}{
		{"one job ticked", func(f url.Values) { f["work"] = []string{"engine-oil"} }, schedule.BasisUnknown},
		{"only a remark", func(f url.Values) { f.Del("work"); f.Set("remarks", "Sold as is, impeller age unknown.") }, schedule.BasisUnknown},
		{"throughout", func(f url.Values) { f.Del("work"); f.Set("throughout", "yes") }, schedule.BasisDate},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := newTestShop(t)
			desk := s.asDesk()
			form := saleForm()
			c.change(form)
			to := desk.post("/sold", form).code(http.StatusSeeOther).to()
			if it := s.dueOf("NB0001", "impeller"); it.Basis != c.basis {
				t.Errorf("the impeller is due %s by %s, want by %s", it.Due, it.Basis, c.basis)
			}
			sheet := desk.get(to).code(http.StatusOK)
			if c.basis == schedule.BasisUnknown {
				sheet.silent("Reconditioned", "Reconditioning")
			} else {
				sheet.says("Reconditioned throughout before the sale")
			}
			if c.name == "only a remark" {
				sheet.says("Sold as is, impeller age unknown.")
			}
		})
	}
	page := newTestShop(t).asDesk().get("/sold").says("Reconditioned throughout")
	if strings.Contains(page.Body.String(), `name="throughout" value="yes" checked`) {
		t.Error("the tick is on at first")
	}
}

// TestSaleAsksWhetherItIsWinterized: nobody hands over a boat in November
// without having said it.
func TestSaleAsksWhetherItIsWinterized(t *testing.T) {
	if testing.Short() {
		t.Skip("takes seconds")
	}
	for _, c := range []struct {
		name, answer, day string
		refused           string
		due               string
	}{
		{"no answer", "", "", "Say whether the boat is winterized", ""},
		{"not yet: at once", "no", "", "", "2026-11-25"},
		{"on the day of the work", "yes", "", "", "2027-10-10"},
		{"on a day", "yes", "2026-10-30", "", "2027-10-10"},
		{"last winter", "yes", "2026-06-20", "last winter", ""},
		{"after the sale", "yes", "2026-11-26", "after the sale", ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := newTestShop(t)
			before := s.fingerprint()
			form := saleForm()
			form.Set("winterized", c.answer)
			form.Set("winterized_day", c.day)
			if c.refused != "" {
				page := s.asDesk().post("/sold", form).code(http.StatusUnprocessableEntity).says(c.refused)
				if body := page.Body.String(); !strings.Contains(body, `value="Reedpike 17"`) || !strings.Contains(body, `value="`+c.answer+`" selected`) && c.answer != "" {
					t.Error("what was entered is lost")
				}
				if s.fingerprint() != before {
					t.Error("something was written all the same")
				}
				return
			}
			s.asDesk().post("/sold", form).code(http.StatusSeeOther)
			if it := s.dueOf("NB0001", "lay-up-outboard"); it.Due.String() != c.due {
				t.Errorf("the lay-up is due %s, want %s", it.Due, c.due)
			}
		})
	}
	// PERCH was laid up on 3 October, by the records.
	s := newTestShop(t)
	s.asDesk().post("/boats/PERCH/owner", url.Values{"what": {"taken-in"}, "day": {"2026-11-25"}}).code(http.StatusSeeOther)
	s.asDesk().get("/sold?boat=PERCH").says("Winterized on October 3, 2026, by the records").silent("Is it winterized?")
}

// TestSaleOffersWhatFits: no drive lube for an outboard.
func TestSaleOffersWhatFits(t *testing.T) {
	s := newTestShop(t)
	desk := s.asDesk()
	desk.post("/boats/PERCH/owner", url.Values{"what": {"taken-in"}, "day": {"2026-11-25"}}).code(http.StatusSeeOther)
	desk.get("/sold?boat=PERCH").says("Gear lube (outboard lower unit)").silent("Drive lube (sterndrive)", "Seawater pump")
	form := saleForm()
	form.Add("work", "drive-lube")
	desk.post("/sold", form).code(http.StatusUnprocessableEntity).says("Drive lube (sterndrive)” does not fit this boat").silent("Seawater pump")
	form.Set("propulsion2", "sterndrive")
	form.Set("fuel2", "gasoline")
	desk.post("/sold", form).code(http.StatusSeeOther)
}

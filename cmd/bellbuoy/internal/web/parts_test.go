package web_test

import (
	"net/http"
	"net/url"
	"slices"
	"strings"
	"testing"

	"bellbuoy/cmd/bellbuoy/internal/app"
	"bellbuoy/schedule"
	"bellbuoy/store"
)

// TestPartsNameTheirVisits: a number of visits opens the list of them.
func TestPartsNameTheirVisits(t *testing.T) {
	s := newTestShop(t)
	cookie := s.hire("Inge", "technician")
	s.as(cookie, "GET", "/parts?weeks=26", nil).says("Spark plugs PLUG-4T", "2.91\u00a0gal", "0.44\u00a0lb")
	s.as(cookie, "GET", "/parts?weeks=26&part=PLUG-4T", nil).says("Spark plugs 2 visits", "Perch Pressure spring commissioning")
	s.as(cookie, "GET", "/parts?weeks=26&part=NO-SUCH", nil).code(200)
}

// TestWhatWasOrderedByTheLiterCountsInGallons: the weeks need 11 l of engine oil, by
// hand 5 l or 1.321 gal and 6 l or 1.585 gal (NIST Handbook 44, appendix C: 3.785411784 l
// to the gallon). Of 10 l at $8.00 before the shop counted in gallons 2.642 gal at $30.28
// are on order.
func TestWhatWasOrderedByTheLiterCountsInGallons(t *testing.T) {
	s := newTestShop(t)
	old := []store.PartOrder{{Code: "OIL-4T", Name: "Four-stroke engine oil", Unit: "l", Quantity: 10, Supplier: "Harbor & Sons", Cost: 800, Ordered: s.today()}}
	if err := s.app.OrderParts(t.Context(), s.now, "test", "first", old); err != nil {
		t.Fatal(err)
	}
	oil := func() app.PartLine {
		t.Helper()
		lines, err := s.app.PartLines(t.Context(), s.today(), 26)
		if err != nil {
			t.Fatal(err)
		}
		i := slices.IndexFunc(lines, func(l app.PartLine) bool { return l.Part.Code == "OIL-4T" })
		return lines[i]
	}
	if l := oil(); l.Part.Quantity != 2.906 || l.Part.Unit != "gal" || l.OnOrder != 2.642 || l.PartStock.Cost != 3028 || l.ToOrder != 0.26 {
		t.Errorf("%+v", l)
	}
	more := old[0]
	more.Unit, more.Quantity, more.Cost = "gal", 0.5, 3100
	if err := s.app.OrderParts(t.Context(), s.now, "test", "second", []store.PartOrder{more}); err != nil {
		t.Fatal(err)
	}
	if l := oil(); l.OnOrder != 3.142 || l.PartStock.Cost != 3100 || l.ToOrder != 0 {
		t.Errorf("after 0.5 gal at $31.00: %+v", l)
	}
}

// TestPartsAreOrderedReceivedAndUsed follows a part from what the weeks need to a
// boat's record, and back: each step shows on the page, and what is in stock or on
// order is not to be ordered again.
func TestPartsAreOrderedReceivedAndUsed(t *testing.T) {
	s := newTestShop(t)
	desk, tech := s.hire("Inge", "desk"), s.hire("Ruth", "technician")
	const page = "/parts?weeks=26"
	line := func() (need, stock, order float64) {
		t.Helper()
		all, err := s.app.PartLines(t.Context(), s.today(), 26)
		if err != nil {
			t.Fatal(err)
		}
		for _, l := range all {
			if l.Part.Code == "PLUG-4T" {
				return l.ToOrder, l.InStock, l.OnOrder
			}
		}
		t.Fatal("no spark plugs are needed")
		return
	}
	is := func(what string, toOrder, inStock, onOrder float64) {
		t.Helper()
		if a, b, c := line(); a != toOrder || b != inStock || c != onOrder {
			t.Errorf("%s: %v to order, %v in stock, %v on order; want %v, %v, %v", what, a, b, c, toOrder, inStock, onOrder)
		}
	}
	is("at first", 8, 0, 0)
	form := formTo(t, s.as(desk, "GET", page, nil).code(http.StatusOK), "/parts")
	n := ""
	for name, v := range form {
		if strings.HasPrefix(name, "code") && v[0] == "PLUG-4T" {
			n = strings.TrimPrefix(name, "code")
		}
	}
	form.Set("do", "order")
	s.as(desk, "POST", "/parts", form).code(http.StatusUnprocessableEntity).says("Nothing is ticked")
	form.Set("take"+n, "1")
	form.Set("quantity"+n, "some")
	form.Set("supplier"+n, "Harbor & Sons")
	form.Set("cost"+n, "9.50")
	s.as(desk, "POST", "/parts", form).code(http.StatusUnprocessableEntity).says("some is no quantity")
	form.Set("quantity"+n, "6")
	s.as(tech, "POST", "/parts", form).code(http.StatusForbidden)
	s.as(desk, "POST", "/parts", form).code(http.StatusSeeOther)
	is("ordered", 2, 0, 6)
	s.as(desk, "POST", "/parts", form).code(http.StatusUnprocessableEntity).says("sent before")
	is("sent twice", 2, 0, 6)
	list := "/parts/order?supplier=Harbor+%26+Sons"
	s.as(desk, "GET", page, nil).says("On order from Harbor & Sons", "6 piece Spark plugs", "$9.50 each", "Received")
	s.as(desk, "GET", list, nil).says("Order: Harbor & Sons", "PLUG-4T", "$57.00 in all")
	csv := s.as(desk, "GET", strings.Replace(list, "order?", "order.csv?", 1), nil).code(http.StatusOK).Body.String()
	if want := "Code,Part,Quantity,Unit,Each,Ordered\r\nPLUG-4T,Spark plugs,6,piece,9.50,2026-11-25\r\n"; csv != want {
		t.Errorf("the file is %q, want %q", csv, want)
	}
	press := func(do string) answered {
		return s.as(desk, "POST", "/parts", url.Values{"do": {do}, "back": {page}}).code(http.StatusSeeOther)
	}
	press("received 1")
	is("received", 2, 6, 0)
	press("received 1") // somebody was faster
	press("not-received 1")
	is("not received after all", 2, 0, 6)
	press("received 1")
	s.as(desk, "GET", list, nil).code(http.StatusNotFound)

	record := url.Values{"form": {"parts"}, "day": {"2026-11-25"}, "stock0": {"PLUG-4T piece"}, "stockquantity0": {"4"}, "stockamount0": {"64.00"}}
	s.as(tech, "POST", "/boats/PERCH/record", record).code(http.StatusSeeOther)
	is("used", 6, 2, 0) // the jobs that need them are still to be done
	s.as(desk, "GET", "/boats/PERCH", nil).says("Part: 4 piece Spark plugs", "$64.00")
	var used schedule.Record
	for _, r := range s.facts("PERCH").Records {
		if strings.HasPrefix(r.Note, "Part:") {
			used = r
		}
	}
	if used.Amount != 6400 {
		t.Fatalf("the record is %+v", used)
	}
	back := url.Values{"form": {"back"}, "record": {used.ID}}
	s.as(desk, "POST", "/boats/PERCH/take-back?day=2026-11-25", back).code(http.StatusSeeOther)
	is("taken back", 2, 6, 0)
	s.as(desk, "GET", "/changes", nil).says("Inge ordered: Spark plugs", "Inge received an order: Spark plugs")

	form = formTo(t, s.as(desk, "GET", page, nil), "/parts")
	form.Set("do", "order")
	form.Set("take"+n, "1")
	s.as(desk, "POST", "/parts", form).code(http.StatusSeeOther)
	is("the rest ordered", 0, 6, 2)
	press("cancel 2")
	is("taken back", 2, 6, 0)
}

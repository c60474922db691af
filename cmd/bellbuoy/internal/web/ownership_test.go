package web_test

import (
	"image"
	"image/color"
	"log/slog"
	"net/http"
	"net/url"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/makiuchi-d/gozxing"
	"github.com/makiuchi-d/gozxing/qrcode"

	"bellbuoy/cmd/bellbuoy/internal/web"
	"bellbuoy/cmd/bellbuoy/internal/web/site"
	"bellbuoy/notify/link"
	"bellbuoy/schedule"
	"bellbuoy/store/outbox"
)

// asDesk is a site on which everybody is signed in, as in the demo.
func (s *testShop) asDesk() *testShop {
	s.t.Helper()
	srv, err := web.New(site.Options{App: s.app, Now: func() time.Time { return s.now }, Log: slog.New(slog.DiscardHandler), Demo: true})
	if err != nil {
		s.t.Fatal(err)
	}
	desk := *s
	desk.site = srv.Handler()
	return &desk
}

// saleForm is a whole form of a sale of a hull that is new to the shop.
func saleForm() url.Values {
	return url.Values{
		"form": {"sale-1"}, "name": {"Nils Fen"}, "email": {"nils@example.org"}, "phone": {"555-0199"}, "contact_by": {"email"},
		"hin": {"QXB99K7T2E61"}, "make": {"Brackenhull"}, "model": {"Reedpike 17"}, "year": {"2016"}, "length_ft": {"17"}, "kind": {"fishing"}, "water": {"fresh"},
		"place": {"Lindrake Cove"}, "berth": {"trailer-home"},
		"propulsion1": {"outboard"}, "fuel1": {"gasoline"}, "stroke1": {"four"}, "cooling1": {"raw-water"}, "hours-new-engine-1": {"212.4"}, "psi-new-engine-1": {"150 148 152 149"},
		"trailer": {"disc"}, "extinguisher": {"2020"}, "day": {"2026-11-25"}, "warranty": {"90"}, "work_day": {"2026-11-20"},
		"winterized": {"no"}, "work": {"engine-oil", "impeller", "trailer-bearings"}, "remarks": {"Hub seal <replaced>."},
	}
}

func TestOneFormStartsEveryClock(t *testing.T) {
	s := newTestShop(t)
	if err := s.app.SwitchSending(t.Context(), s.now, "owner", true); err != nil {
		t.Fatal(err)
	}
	desk := s.asDesk()
	desk.get("/sold").code(http.StatusOK).says("New sale", "Engine warranty, days", "Water pump impeller")
	to := desk.post("/sold", saleForm()).code(http.StatusSeeOther).to()
	if to != "/boats/NB0001/delivery-sheet" {
		t.Fatalf("led to %q", to)
	}
	f := s.facts("NB0001")
	if f.Boat.WarrantyUntil.String() != "2027-02-23" || f.Boat.SoldOn.String() != "2026-11-25" || len(f.Records) != 4 {
		t.Errorf("facts %+v", f)
	}
	var due string
	for _, it := range s.plan("NB0001").Items {
		if it.Rule == "impeller" {
			due = it.Due.String()
		}
	}
	if due != "2029-11-20" {
		t.Errorf("the impeller is due %q, want three years from the work before the sale", due)
	}
	queued, err := outbox.Messages(t.Context(), s.app.DB, outbox.MessageQuery{CustomerID: "NC0001"})
	if err != nil || len(queued) != 1 || queued[0].Step != schedule.StepWelcome {
		t.Errorf("letters %+v, error %v; want one welcome", queued, err)
	}
	s.get(s.my("NC0001")).code(http.StatusOK).says("Hello Nils Fen", "Brackenhull Reedpike 17", "Spring commissioning")
	sheet := desk.get(to).code(http.StatusOK).
		says("Engine warranty until February 23, 2027", "Water pump impeller, engine, at 212.4 h", "Compression by cylinder: 150, 148, 152, 149 psi", "Hub seal &lt;replaced&gt;.", "What comes when, and why", "Carbon monoxide")
	if got, want := readQR(t, sheet.Body.String()), "https://service.lindrake.example"+s.my("NC0001")+"/calendar"; got != want {
		t.Errorf("the code says %q, want %q", got, want)
	}
	desk.post("/sold", saleForm()).code(http.StatusUnprocessableEntity)
	if _, err := s.app.DB.Boat(t.Context(), "NB0002"); err == nil {
		t.Error("the same form sold a second boat")
	}
}

// readQR reads the code drawn on a page with a reader that is not ours.
func readQR(t *testing.T, page string) string {
	t.Helper()
	side := regexp.MustCompile(`viewBox="0 0 (\d+) `).FindStringSubmatch(page)
	if side == nil {
		t.Fatal("no code on the page")
	}
	n, err := strconv.Atoi(side[1])
	if err != nil {
		t.Fatal(err)
	}
	const scale = 6
	img := image.NewGray(image.Rect(0, 0, n*scale, n*scale))
	for i := range img.Pix {
		img.Pix[i] = 255
	}
	for _, m := range regexp.MustCompile(`M(\d+) (\d+)h1v1h-1z`).FindAllStringSubmatch(page, -1) {
		x, _ := strconv.Atoi(m[1])
		y, _ := strconv.Atoi(m[2])
		for dy := range scale {
			for dx := range scale {
				img.SetGray(x*scale+dx, y*scale+dy, color.Gray{})
			}
		}
	}
	bits, err := gozxing.NewBinaryBitmapFromImage(img)
	if err != nil {
		t.Fatal(err)
	}
	// The picture is nothing but the code, so no corner of it has to be searched for:
	// with some addresses the search takes other modules for corners.
	text, err := qrcode.NewQRCodeReader().Decode(bits, map[gozxing.DecodeHintType]any{gozxing.DecodeHintType_PURE_BARCODE: true})
	if err != nil {
		t.Fatal(err)
	}
	return text.GetText()
}

func TestSaleSaysWhatIsWrong(t *testing.T) {
	if testing.Short() {
		t.Skip("takes seconds")
	}
	for _, c := range []struct {
		name, field, value, says string
	}{
		{"no buyer", "name", " ", "Who bought it?"},
		{"no email address", "email", "nils at home", "Nothing was written. \"nils at home\" is not an address; want one @."},
		{"tomorrow", "day", "2026-11-26", "still to come"},
		{"no day", "day", "today", "could not be read"},
		{"a hull on file", "hin", "QXB-3K7T2E616", "is on file"},
		{"no place", "place", "Nowhere", "Choose kind, water, place and where"},
		{"years", "warranty", "2 years", "number of days"},
		{"no hours", "hours-new-engine-1", "many", "could not be read"},
		{"no pressure", "psi-new-engine-1", "fine", "want a pressure"},
		{"work after the sale", "work_day", "2026-11-26", "lies after it"},
		{"no such service", "work", "magic", "no service"},
		{"an odd engine", "propulsion1", "oars", "propulsion and fuel"},
		{"an odd year", "year", "16", "model year"},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := newTestShop(t)
			desk, before := s.asDesk(), s.fingerprint()
			form := saleForm()
			form.Set(c.field, c.value)
			a := desk.post("/sold", form).code(http.StatusUnprocessableEntity).says(c.says).silent(": refused", "Sell boat")
			if !strings.Contains(a.Body.String(), `value="Reedpike 17"`) {
				t.Error("what was entered is lost")
			}
			if s.fingerprint() != before {
				t.Error("something was written all the same")
			}
		})
	}
}

func TestBoatIsTradedInAndSoldAgain(t *testing.T) {
	s := newTestShop(t)
	desk := s.asDesk()
	old := s.my("W1")
	feed := s.path(s.app.FeedURL(t.Context(), link.ScopeBoat, "PERCH"))
	s.post(old+"/answer", url.Values{"kind": {"sold"}, "boat": {"PERCH"}, "note": {"to my <cousin>"}}).code(http.StatusSeeOther)
	desk.get("/sold").says("Owners who say that they sold", "to my &lt;cousin&gt;")
	desk.get("/boats/PERCH/owner").code(http.StatusOK).says("Maren Jørstad says that the boat is sold")

	// It is still hers by the file, so it cannot be sold over her head.
	sale := saleForm()
	sale.Set("boat", "PERCH")
	desk.post("/sold", sale).code(http.StatusUnprocessableEntity).says("still Maren Jørstad's")

	desk.post("/boats/PERCH/owner", url.Values{"what": {"taken-in"}, "day": {"2026-11-25"}}).code(http.StatusSeeOther)
	s.now = s.now.Add(2e9)
	s.get(feed).code(http.StatusGone)
	s.get(old).code(http.StatusOK).silent("Perch Pressure")
	s.get(old + "/visit/" + perchVisit).code(http.StatusNotFound).says("no longer planned")
	desk.get("/sold?find_hin=qxb3k7t2e616").code(http.StatusOK).says("On file: Perch Pressure", "Port engine")

	sale.Set("form", "sale-2")
	sale.Set("customer", "W2")
	sale.Set("name", "Piotr Dunmarrow")
	sale.Set("boat_name", "Perch Pressure")
	sale.Set("hours-PERCH-E1", "300")
	desk.post("/sold", sale).code(http.StatusSeeOther)
	if f := s.facts("PERCH"); len(f.Records) < 10 || f.Boat.HIN != "QXB3K7T2E616" {
		t.Errorf("%d records; want the whole history", len(f.Records))
	}
	s.get(s.my("W2")).code(http.StatusOK).says("Perch Pressure")
	if f := unfold(s.feed("W2")); !strings.Contains(f, s.my("W2")) || strings.Contains(f, old) {
		t.Error("the new owner's calendar does not lead to their page")
	}
	if strings.Contains(s.feed("W1"), "Perch Pressure") {
		t.Error("the earlier owner's calendar still speaks of it")
	}
	desk.get("/boats/PERCH/owner").says("Maren Jørstad until Nov 25, 2026", "Piotr Dunmarrow now")
}

func TestBoatIsSoldOn(t *testing.T) {
	s := newTestShop(t)
	if err := s.app.SwitchSending(t.Context(), s.now, "owner", true); err != nil {
		t.Fatal(err)
	}
	desk := s.asDesk()
	desk.get("/boats/PERCH/owner?find_buyer=odalys").code(http.StatusOK).says("Odalys Trần")
	desk.post("/boats/PERCH/owner", url.Values{"what": {"sold-on"}, "day": {"2026-11-25"}, "name": {""}}).code(http.StatusUnprocessableEntity).says("Who has it now?")
	desk.post("/boats/PERCH/owner", url.Values{"what": {"sold-on"}, "day": {"2026-11-25"}, "customer": {"W3"}}).code(http.StatusSeeOther)
	s.get(s.my("W3")).says("Perch Pressure", "Slow Sunday")
	queued, err := outbox.Messages(t.Context(), s.app.DB, outbox.MessageQuery{CustomerID: "W3"})
	if err != nil || len(queued) != 1 || queued[0].Step != schedule.StepWelcome {
		t.Errorf("letters %+v, error %v; want one welcome", queued, err)
	}
}

func TestMistakenSaleIsSettled(t *testing.T) {
	s := newTestShop(t)
	s.post(s.my("W1")+"/answer", url.Values{"kind": {"sold"}, "boat": {"PERCH"}}).code(http.StatusSeeOther)
	s.asDesk().post("/boats/PERCH/owner", url.Values{"what": {"theirs"}}).code(http.StatusSeeOther)
	s.get(s.my("W1")).says("Spring commissioning").silent("no longer have this boat. Reminders have stopped")
	if !strings.Contains(unfold(s.feed("W1")), "Spring commissioning") {
		t.Error("the calendar does not hold the boat again")
	}
}

func TestBoatLeavesOurCare(t *testing.T) {
	s := newTestShop(t)
	s.asDesk().post("/boats/PERCH/owner", url.Values{"what": {"gone"}, "day": {"2026-11-25"}}).code(http.StatusSeeOther)
	// One thing is said of it, not two that contradict each other.
	s.asDesk().get("/boats/PERCH/owner").says("Inactive since Nov 25, 2026").silent("The shop has it")
	s.asDesk().get("/boats/PERCH").says("Inactive since Nov 25, 2026").silent("The shop has it", "No owner on file")
	if f := s.facts("PERCH"); f.Boat.Gone != s.today() {
		t.Errorf("gone %s", f.Boat.Gone)
	}
	s.get(s.my("W1")).code(http.StatusOK).says("There is no boat under your name").silent("Perch")
}

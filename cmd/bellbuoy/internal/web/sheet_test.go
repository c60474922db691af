package web_test

import (
	"context"
	"net/url"
	"regexp"
	"strings"
	"testing"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"

	"bellbuoy/schedule"
	"bellbuoy/store"
	"bellbuoy/store/storetest"
)

// TestSheetNamesEveryJob: also what a job on one part includes on another, such
// as the look at the hull that goes with the engine's fit-out.
func TestSheetNamesEveryJob(t *testing.T) {
	s := newTestShop(t)
	cookie := s.hire("Ruth", "technician")
	others := 0
	for _, boat := range []string{"PERCH", "HERON", "LARK", "PUFFIN"} {
		view, err := s.app.View(t.Context(), boat)
		if err != nil {
			t.Fatal(err)
		}
		for _, v := range view.Visits {
			page := s.as(cookie, "GET", "/boats/"+boat+"/sheet?visit="+url.QueryEscape(v.Visit.ID), nil).code(200)
			_, jobs, _ := strings.Cut(page.text(), "Jobs, in working order")
			jobs, _, _ = strings.Cut(jobs, "Parts to have there")
			for _, l := range v.Lines {
				if l.Item.ByCustomer {
					continue
				}
				title := strings.NewReplacer(" (Port engine)", "", " (Starboard engine)", "").Replace(l.Title)
				if !strings.Contains(jobs, title) {
					t.Errorf("%s: the sheet lacks %q:\n%s", v.Visit.ID, title, jobs)
				}
				if l.Included && l.Item.ComponentID == boat {
					others++
				}
			}
		}
	}
	if others == 0 {
		t.Error("no job of these visits includes one on another part: the test sees nothing")
	}
}

// TestSheetSaysHowFirmTheDayIs: a week is a Monday's, and a visit without one
// is not pencilled.
// TestSheetCautionsWhatItMeasures: each sheet with a blank for compression or volts
// has the caution for it, whatever its jobs ask for, and a mark at the blank.
func TestSheetCautionsWhatItMeasures(t *testing.T) {
	s := newTestShop(t)
	cookie := s.hire("Ruth", "technician")
	blanks := map[string]int{}
	for _, boat := range []string{"PERCH", "HERON", "LARK", "PUFFIN"} {
		view, err := s.app.View(t.Context(), boat)
		if err != nil {
			t.Fatal(err)
		}
		for _, v := range view.Visits {
			page := s.as(cookie, "GET", "/boats/"+boat+"/sheet?visit="+url.QueryEscape(v.Visit.ID), nil).code(200)
			for blank, caution := range map[string]string{
				"Compression, psi by cylinder": "Disable the ignition before cranking with the plugs out.",
				"Volts at rest":                "Batteries give off explosive gas",
			} {
				if !strings.Contains(page.text(), blank) {
					continue
				}
				blanks[blank]++
				page.says(caution)
				if !regexp.MustCompile(blank + ` <sup>[A-Z]`).MatchString(page.Body.String()) {
					t.Errorf("%s: no mark at %q", v.Visit.ID, blank)
				}
			}
		}
	}
	if blanks["Compression, psi by cylinder"] == 0 {
		t.Error("no sheet has a blank for compression: the test sees nothing")
	}
}

func TestSheetSaysHowFirmTheDayIs(t *testing.T) {
	s := newTestShop(t)
	cookie := s.hire("Ruth", "technician")
	v := s.nextVisit("PERCH")
	path := "/boats/PERCH/sheet?visit=" + url.QueryEscape(v.ID)
	s.as(cookie, "GET", path, nil).says("penciled in, about")
	if _, err := storetest.Writer(t, s.app.DB).SaveWeeks(t.Context(), []store.Week{{VisitID: v.ID}}); err != nil {
		t.Fatal(err)
	}
	s.as(cookie, "GET", path, nil).says("about May 15, 2027, not booked")
}

// TestSheetHasABlankForEachCylinder: as many as the engine had at its last test;
// cautions stand once at the foot, as marks beside their jobs.
func TestSheetHasABlankForEachCylinder(t *testing.T) {
	s := newTestShop(t)
	cookie := s.hire("Ruth", "technician")
	v := s.nextVisit("PERCH")
	path := "/boats/PERCH/sheet?visit=" + url.QueryEscape(v.ID)
	boxes := func() int { return strings.Count(s.as(cookie, "GET", path, nil).Body.String(), `class="box"`) }
	if n := boxes(); n != 0 {
		t.Fatalf("%d boxes before any test", n)
	}
	engine := ""
	for _, c := range s.facts("PERCH").Components {
		if c.Kind == "engine" {
			engine = c.ID
			break
		}
	}
	work := &store.Work{BoatID: "PERCH", Measurements: []store.Measurement{{BoatID: "PERCH", ComponentID: engine, Day: s.today(), Kind: store.MeasureCompression, Figures: []float64{118, 120, 117}}}}
	if _, err := s.app.Record(t.Context(), s.now, "Ruth", "a-form", work, false); err != nil {
		t.Fatal(err)
	}
	if n := boxes(); n != 3 {
		t.Errorf("%d boxes for an engine of three cylinders", n)
	}
	view, err := s.app.View(t.Context(), "PERCH")
	if err != nil {
		t.Fatal(err)
	}
	page := s.as(cookie, "GET", path, nil).text()
	for _, l := range view.Visits[0].Lines {
		for _, c := range l.Cautions {
			if strings.HasPrefix(c, "The engine maker's manual for this serial number") {
				c = "Follow the engine maker's manual for this serial number and local codes" // every sheet's last words
			}
			if strings.Count(page, c) != 1 {
				t.Errorf("%q stands %d times on the sheet, want once", c, strings.Count(page, c))
			}
		}
	}
}

// TestASheetPrintsOnAPageOrTwo prints every visit's sheet on Letter and A4: one page
// for a boat with one engine, at most two for others, and those of a day one after the other.
func TestASheetPrintsOnAPageOrTwo(t *testing.T) {
	ctx := openBrowser(t)
	s := localShop(t)
	s.hire("Inge", "desk")
	base := s.serve()
	signIn(ctx, t, base, "Inge")
	printed := 0
	for _, boat := range []string{"PERCH", "HERON", "LARK", "PUFFIN"} {
		most := 0 // pages
		for _, c := range s.facts(boat).Components {
			if c.Kind == "engine" {
				most++
			}
		}
		for _, v := range s.plan(boat).Visits {
			mustDo(ctx, t, "open the sheet", chromedp.Navigate(base+"/boats/"+boat+"/sheet?visit="+url.QueryEscape(v.ID)), chromedp.WaitReady(chromedp.CSS(".work-sheet")))
			for name, paper := range map[string][2]float64{"Letter": {8.5, 11}, "A4": {8.27, 11.69}} {
				if n := pagesPrinted(ctx, t, paper); n < 1 || n > most {
					t.Errorf("%s takes %d pages of %s, at most %d", v.ID, n, name, most)
				}
				printed++
			}
		}
	}
	if printed < 8 {
		t.Errorf("%d sheets were printed: the test proves too little", printed)
	}
	day := s.today() + 1
	for _, boat := range []string{"PERCH", "HERON"} {
		v := s.nextVisit(boat)
		b := schedule.Booking{BoatID: boat, VisitID: v.ID, Kind: v.Kind, Day: day, Minute: -1, Over: true}
		if _, err := s.app.Book(t.Context(), s.now, "Inge", b, nil, true); err != nil {
			t.Fatal(err)
		}
	}
	mustDo(ctx, t, "open the sheets of a day", chromedp.Navigate(base+"/sheets?day="+day.String()), chromedp.WaitReady(chromedp.CSS(".work-sheet")))
	if n := evaluate[int](ctx, t, `document.querySelectorAll(".work-sheet").length`); n != 2 {
		t.Errorf("%d sheets for two booked boats", n)
	}
	if n := pagesPrinted(ctx, t, [2]float64{8.5, 11}); n < 2 || n > 4 {
		t.Errorf("two sheets take %d pages", n)
	}
}

// pagesPrinted prints the open page on paper of a width and height in inches and
// counts the pages.
func pagesPrinted(ctx context.Context, t *testing.T, paper [2]float64) int {
	t.Helper()
	var pdf []byte
	mustDo(ctx, t, "print", chromedp.Func(func(ctx context.Context, target *chromedp.Target) error {
		out, err := cdp.Call(ctx, target, page.PrintToPDF, page.PrintToPDFParams{PaperWidth: paper[0], PaperHeight: paper[1]})
		if err == nil {
			pdf = out.Data
		}
		return err
	}))
	return len(regexp.MustCompile(`/Type\s*/Page\b[^s]`).FindAll(pdf, -1))
}

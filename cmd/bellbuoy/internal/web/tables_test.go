package web_test

import (
	"bytes"
	"fmt"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/xuri/excelize/v2"
)

// tableOfWork is a shop's own table: one job that only a person can place, one
// amount that cannot be read.
const tableOfWork = `Date,Customer,Phone,Boat,Make,Job,Total,Ref
3/14/24,Paz Okonwe,212-555-0111,Heron,Tarnmoor,oil & filter change,120.00,a
4/15/24,Paz  Okonwe,,Heron,Tarnmoor,lower unit,80.00,b
5/16/25,Uli Fen,212-555-0122,Tern,Brackenhull,winterized,ask Uli,c
`

// answerForm is the form of the page with every open question answered.
func answerForm(t *testing.T, page answered, answers map[string]string) url.Values {
	t.Helper()
	form := formTo(t, page, "/import/tables")
	label := regexp.MustCompile(`<label for="(q[0-9a-f]+)">([^<]*)</label>`)
	for _, m := range label.FindAllStringSubmatch(page.Body.String(), -1) {
		if v, ok := answers[m[2]]; ok {
			form.Set(m[1], v)
			delete(answers, m[2])
		}
	}
	if len(answers) > 0 {
		t.Fatalf("the page does not ask %v:\n%s", answers, page.Body.String())
	}
	return form
}

// TestTablesAreImportedOnThePage uploads a table of the shop's own, answers what it
// asks, sees what would be made, imports it, gets a row back, and brings that back
// corrected: no answer is asked for twice.
func TestTablesAreImportedOnThePage(t *testing.T) {
	s := emptyTestShop(t, shopSettings)
	cookie := s.hire("Inge", "desk")
	at := s.upload(cookie, map[string][]byte{"work.csv": []byte(tableOfWork)}).code(http.StatusSeeOther).to()
	page := s.as(cookie, "GET", at, nil).code(http.StatusOK).
		says("work.csv", "What each column holds", "oil & filter change", "Paz Okonwe", "questions are open", "lower unit", "3 rows")
	form := answerForm(t, page, map[string]string{
		"lower unit": "gear-lube", "Boat: kind": "runabout", "Boat: water": "fresh", "Boat: berth": "own-dock", "Engine: propulsion": "outboard",
	})
	form.Set("do", "save")
	s.as(cookie, "POST", "/import/tables", form).code(http.StatusSeeOther)
	page = s.as(cookie, "GET", at, nil).says("Everything is answered").silent("questions are open")
	form = formTo(t, page, "/import/tables")
	form.Set("do", "preview")
	shown := s.as(cookie, "POST", "/import/tables", form).code(http.StatusSeeOther).to()
	before := s.fingerprint()
	page = s.as(cookie, "GET", shown, nil).code(http.StatusOK).
		says("What would be made", "Customers: 1 new", "3 rows read, 2 can be imported. 1 row comes back", "What was paid, by year", "2024", "$200.00", "reached in several ways", "row 4")
	if s.fingerprint() != before {
		t.Error("the preview wrote")
	}
	held := regexp.MustCompile(`name="held" value="([^"]+)"`).FindStringSubmatch(page.Body.String())
	take := url.Values{"held": {held[1]}, "do": {"import"}}
	done := s.as(cookie, "POST", "/import/tables", take).code(http.StatusSeeOther)
	s.send("GET", done.to(), nil, "Cookie", cookie+"; "+cookieOf(done)).says("3 rows read: 2 imported, 1 returned.", "1 row of the last import need a person", "Download them")
	s.as(cookie, "POST", "/import/tables", take).code(http.StatusSeeOther) // pressed twice

	book, err := excelize.OpenReader(bytes.NewReader(s.as(cookie, "GET", "/import/returned", nil).code(http.StatusOK).Body.Bytes()))
	if err != nil {
		t.Fatal(err)
	}
	sheets := book.GetSheetList()
	rows, err := book.GetRows(sheets[0])
	if err != nil || len(rows) != 2 || !strings.Contains(strings.Join(rows[1], "|"), "ask Uli") {
		t.Fatalf("returned %q, %v", rows, err)
	}
	for i, cell := range rows[1] {
		if cell == "ask Uli" {
			axis, err := excelize.CoordinatesToCellName(i+1, 2)
			if err == nil {
				err = book.SetCellValue(sheets[0], axis, "95.00")
			}
			if err != nil {
				t.Fatal(err)
			}
		}
	}
	var corrected bytes.Buffer
	if err := book.Write(&corrected); err != nil {
		t.Fatal(err)
	}
	at = s.upload(cookie, map[string][]byte{"returned.xlsx": corrected.Bytes()}).code(http.StatusSeeOther).to()
	page = s.as(cookie, "GET", at, nil).code(http.StatusOK).says("Everything is answered").silent("questions are open", "question is open")
	form = formTo(t, page, "/import/tables")
	form.Set("do", "preview")
	page = s.as(cookie, "GET", s.as(cookie, "POST", "/import/tables", form).code(http.StatusSeeOther).to(), nil).says("1 row read, 1 can be imported. 0 rows come back")
	held = regexp.MustCompile(`name="held" value="([^"]+)"`).FindStringSubmatch(page.Body.String())
	done = s.as(cookie, "POST", "/import/tables", url.Values{"held": {held[1]}, "do": {"import"}}).code(http.StatusSeeOther)
	s.send("GET", done.to(), nil, "Cookie", cookie+"; "+cookieOf(done)).says("1 row read: 1 imported, 0 returned.").silent("Download them")
	s.as(cookie, "GET", "/import/returned", nil).code(http.StatusNotFound)
}

// TestFilesThatAreNoTables: the page says what they are, and asks for others.
func TestFilesThatAreNoTables(t *testing.T) {
	s := emptyTestShop(t, shopSettings)
	cookie := s.hire("Inge", "desk")
	at := s.upload(cookie, map[string][]byte{"list.xlsx": []byte("<html><table><tr><td>x</td></tr></table></html>")}).code(http.StatusSeeOther).to()
	s.as(cookie, "GET", at, nil).code(http.StatusUnprocessableEntity).says("Choose your own tables", "Read list.xlsx: it is a web page")
	s.as(cookie, "GET", "/import/tables?held=other", nil).code(http.StatusConflict).says("has expired")
}

// tablesPages are the page of an import that asks, and the one that shows what would
// be made.
func tablesPages(t *testing.T, s *testShop, cookie string) []string {
	t.Helper()
	asks := s.upload(cookie, map[string][]byte{"work.csv": []byte(tableOfWork)}).code(http.StatusSeeOther).to()
	form := answerForm(t, s.as(cookie, "GET", asks, nil), map[string]string{
		"lower unit": "gear-lube", "Boat: kind": "runabout", "Boat: water": "fresh", "Boat: berth": "own-dock", "Engine: propulsion": "outboard",
	})
	form.Set("do", "preview")
	shows, _, _ := strings.Cut(s.as(cookie, "POST", "/import/tables", form).code(http.StatusSeeOther).to(), "#")
	return []string{asks, shows}
}

func TestTablesPagesAreValid(t *testing.T) {
	s := localShop(t)
	cookie := s.hire("Odile", "owner")
	dir := t.TempDir()
	for i, path := range tablesPages(t, s, cookie) {
		body := s.as(cookie, "GET", path, nil).code(http.StatusOK).Body.Bytes()
		if len(body) > mostBytes {
			t.Errorf("%s weighs %d bytes, at most %d", path, len(body), mostBytes)
		}
		if err := os.WriteFile(filepath.Join(dir, fmt.Sprint("page", i, ".html")), body, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	validHTML(t, dir, htmlConfig)
}

func TestTablesPagesInABrowser(t *testing.T) {
	ctx := openBrowser(t)
	s := localShop(t)
	cookie := s.hire("Odile", "owner")
	base := s.serve()
	signIn(ctx, t, base, "Odile")
	looksRight(ctx, t, base, tablesPages(t, s, cookie))
}

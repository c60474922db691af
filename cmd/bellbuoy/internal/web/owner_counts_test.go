package web_test

import (
	"database/sql"
	"fmt"
	"math"
	"net/http"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"golang.org/x/net/html"
	"golang.org/x/net/html/atom"

	"bellbuoy/cmd/bellbuoy/internal/figures"
	"bellbuoy/store"
	"bellbuoy/store/storetest"
)

// noListReasons are why a number on the owner's pages may open no list, as its
// template says in data-nolist: it is a share or factor of numbers that do, their
// average, an estimate with its range, their sum or difference, a setting, part of a
// name, or a number that defines a word.
var noListReasons = []string{"rate", "average", "estimate", "sum", "setting", "name", "definition"}

// shownNumber is a number as an owner's page shows it.
type shownNumber struct {
	Text   string // with its currency sign before it and its unit after it
	Link   string // the page that it opens, "" for none
	Label  string // how a screen reader says the link
	NoList string // why it opens none
}

var (
	calendarWords = regexp.MustCompile(`(?i)\d{4}-\d\d-\d\d|\b(?:jan|feb|mar|apr|may|jun|jul|aug|sep|oct|nov|dec)[a-z]* \d{1,2}(?:, \d{4})?\b` +
		`|\b(?:january|february|march|april|may|june|july|august|september|october|november|december|spring|autumn)(?: of)? \d{4}\b`)
	numberWords = regexp.MustCompile(`\$?\d+(?:[,.]\d+)*%?(?: h\b)?`)
)

// shownNumbers finds the numbers of a page's main part. Left out are dates, the heads
// of columns and rows, headings, the menu and forms: no figures stand there.
func shownNumbers(t testing.TB, body string) []shownNumber {
	t.Helper()
	page, err := html.Parse(strings.NewReader(body))
	if err != nil {
		t.Fatal(err)
	}
	var found []shownNumber
	var walk func(n *html.Node, in shownNumber)
	walk = func(n *html.Node, in shownNumber) {
		switch n.DataAtom {
		case atom.Th, atom.H1, atom.H2, atom.H3, atom.Nav, atom.Form, atom.Time, atom.Header, atom.Footer, atom.Head, atom.Meter:
			return
		}
		if why, ok := mark(n, "data-nolist"); ok {
			in.NoList = why
		}
		if href, ok := mark(n, "href"); ok {
			in.Link, in.Label = href, textOf(n)
			if label, ok := mark(n, "aria-label"); ok {
				in.Label = label
			}
		}
		if n.Type == html.TextNode {
			for _, number := range numberWords.FindAllString(calendarWords.ReplaceAllString(n.Data, ""), -1) {
				in.Text = number
				found = append(found, in)
			}
		}
		for c := range n.ChildNodes() {
			walk(c, in)
		}
	}
	for n := range page.Descendants() {
		if n.DataAtom == atom.Main {
			walk(n, shownNumber{})
		}
	}
	return found
}

// fault says what is wrong with a number by itself, "" for nothing.
func (n shownNumber) fault() string {
	list := strings.HasPrefix(n.Link, "/owner/list/")
	switch {
	case list && !strings.ContainsFunc(strings.TrimSuffix(n.Label, " h"), func(r rune) bool { return r >= 'A' && r <= 'z' }):
		return "its link has no name"
	case list, strings.HasPrefix(n.Link, "/boats/"), strings.HasPrefix(n.Link, "tel:"), n.Text == "0", n.Text == "$0", n.Text == "0 h":
		return ""
	case n.NoList == "":
		return "it opens no list, and nothing says why"
	case !slices.Contains(noListReasons, n.NoList):
		return "why it opens no list is none of " + fmt.Sprint(noListReasons)
	}
	return ""
}

// listTotals are what a list's page says of itself: its rows, and everything that it
// adds up.
type listTotals struct {
	rows  int
	sums  []float64 // money
	hours []float64
}

func readTotals(t testing.TB, body string) (x listTotals) {
	t.Helper()
	m := regexp.MustCompile(`<strong>(\d+) rows?</strong>([^<]*)`).FindStringSubmatch(body)
	if m == nil {
		t.Fatal("the list does not say how many rows it has")
	}
	x.rows, _ = strconv.Atoi(m[1])
	_, foot, _ := strings.Cut(body, "<tfoot>")
	for _, s := range numberWords.FindAllString(m[2]+foot, -1) {
		switch {
		case strings.HasPrefix(s, "$"):
			x.sums = append(x.sums, value(s))
		case strings.HasSuffix(s, " h"):
			x.hours = append(x.hours, value(s))
		}
	}
	return x
}

// value reads "$1,240.50", "12.5 h" or "12".
func value(s string) float64 {
	v, _ := strconv.ParseFloat(strings.NewReplacer("$", "", ",", "", " h", "").Replace(s), 64)
	return v
}

// says reports whether the list counts a number, as exactly as it is shown.
func (x *listTotals) says(number string) bool {
	within := 0.5
	if _, decimals, ok := strings.Cut(strings.TrimSuffix(number, " h"), "."); ok {
		within = 0.5 * math.Pow(10, -float64(len(decimals)))
	}
	near := func(v float64) bool { return math.Abs(v-value(number)) <= within+1e-9 }
	switch {
	case strings.HasPrefix(number, "$"):
		return slices.ContainsFunc(x.sums, near)
	case strings.HasSuffix(number, " h"):
		return slices.ContainsFunc(x.hours, near)
	}
	return number == strconv.Itoa(x.rows)
}

// TestEveryNumberOpensItsList walks all of the owner's pages: every number that is no
// date is a named link to the list that it is counted from, and that list's page
// counts the same; or its template says why there is none.
func TestEveryNumberOpensItsList(t *testing.T) {
	if testing.Short() {
		t.Skip("takes seconds")
	}
	s := ownerShop(t)
	remindSome(t, s)
	cookie := s.hire("Odile", "owner")
	lists := make(map[string]listTotals)
	tally := make(map[string]int)
	for _, path := range ownerPages() {
		if !strings.HasPrefix(path, "/owner") || strings.HasPrefix(path, "/owner/list/") {
			continue
		}
		for _, n := range shownNumbers(t, s.as(cookie, "GET", path, nil).code(http.StatusOK).Body.String()) {
			if fault := n.fault(); fault != "" {
				t.Errorf("%s: %s (%s): %s", path, n.Text, n.Label, fault)
				continue
			}
			if !strings.HasPrefix(n.Link, "/owner/list/") {
				tally[n.NoList]++
				continue
			}
			tally["linked"]++
			x, known := lists[n.Link]
			if !known {
				x = readTotals(t, s.as(cookie, "GET", n.Link, nil).code(http.StatusOK).Body.String())
				lists[n.Link] = x
			}
			if !x.says(n.Text) {
				t.Errorf("%s: %s (%s); its list %s has %d rows, %.2f money, %.2f hours", path, n.Text, n.Label, n.Link, x.rows, x.sums, x.hours)
			}
		}
	}
	t.Logf("numbers by why they open no list: %v; %d lists", tally, len(lists))
	if tally["linked"] < 300 || len(lists) < 150 {
		t.Errorf("only %d numbers open %d lists", tally["linked"], len(lists))
	}
}

// remindSome gives the shop what its history has none of: reminders of this season
// by email, work given to technicians, and ordered parts.
func remindSome(t *testing.T, s *testShop) {
	t.Helper()
	db, err := sql.Open("sqlite", "file:"+s.app.DB.Path()+"?_pragma=busy_timeout(60000)")
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	for _, q := range []string{
		`INSERT INTO heard (customer_id, subject, step, on_day, letter_id) SELECT customer_id, boat_id || '.lay-up.' || ?2, 'first-reminder', date(?1, '-90 days'), 1
			FROM ownerships WHERE to_day IS NULL AND CAST(substr(boat_id, 2) AS INTEGER) % 3 > 0`,
		`INSERT INTO bookings (boat_id, visit_id, kind, day) SELECT boat_id, 'v' || boat_id || day, 'extra', day FROM records
			WHERE done_by = 'shop' AND amount > 0 AND CAST(?2 AS INTEGER) > 0 AND day BETWEEN date(?1, '-500 days') AND ?1 GROUP BY boat_id, day HAVING CAST(substr(boat_id, 2) AS INTEGER) % 3 = 0`,
		`INSERT INTO stages (visit_id, boat_id, stage, since, technician) SELECT visit_id, boat_id, 'picked-up', 0,
			iif(CAST(substr(boat_id, 2) AS INTEGER) % 2 = 0, 'Ruth', 'Tomasz') FROM bookings WHERE visit_id LIKE 'vB%' AND ?1 > '' AND ?2 <> ''`,
	} {
		if _, err := db.ExecContext(t.Context(), q, s.today().String(), strconv.Itoa(s.today().Year())); err != nil {
			t.Fatalf("%.60s: %v", q, err)
		}
	}
	l, err := figures.Open(t.Context(), s.app, s.today())
	if err != nil {
		t.Fatal(err)
	}
	parts, err := l.List(t.Context(), figures.Query{List: figures.ListParts})
	if err != nil || len(parts.Rows) < 2 {
		t.Fatal(parts, err)
	}
	var orders []store.PartOrder
	for _, row := range parts.Rows[:len(parts.Rows)/2] {
		orders = append(orders, store.PartOrder{Code: row[0], Name: row[1], Unit: row[3], Quantity: 2, Cost: 1250, Supplier: "Averil Supply", Ordered: s.today()})
	}
	if err := storetest.Writer(t, s.app.DB).OrderParts(t.Context(), s.now, "test", "", orders); err != nil {
		t.Fatal(err)
	}
}

// TestShownNumbers: the walk finds what is wrong.
func TestShownNumbers(t *testing.T) {
	for _, c := range []struct{ html, want string }{
		{`<p>12 boats since October 5, 2026 and autumn 2026</p>`, "12: it opens no list, and nothing says why"},
		{`<p data-nolist="because">12 boats</p>`, "12: why it opens no list is none of [rate average estimate sum setting name definition]"},
		{`<td data-nolist="rate">12%</td>`, ""},
		{`<td><a href="/owner/list/work">$1,240.50</a></td>`, "$1,240.50: its link has no name"},
		{`<td><a href="/owner/list/work" aria-label="12 h, sold">12 h</a></td>`, ""},
		{`<p><a href="/owner">12 boats</a>, 0 of them late</p>`, "12: it opens no list, and nothing says why"},
	} {
		got := ""
		for _, n := range shownNumbers(t, "<main>"+strings.NewReplacer("<td", "<table><tr><td", "</td>", "</td></tr></table>").Replace(c.html)+"</main>") {
			if f := n.fault(); f != "" {
				got += n.Text + ": " + f
			}
		}
		if got != c.want {
			t.Errorf("%s: %q, want %q", c.html, got, c.want)
		}
	}
	x := listTotals{rows: 12, sums: []float64{1240.5}, hours: []float64{3.2}}
	for number, want := range map[string]bool{"12": true, "13": false, "$1,241": true, "$1,240.50": true, "$1,240.49": false, "$12": false, "3 h": true, "3.2 h": true, "3.1 h": false} {
		if x.says(number) != want {
			t.Errorf("%s: %v", number, !want)
		}
	}
}

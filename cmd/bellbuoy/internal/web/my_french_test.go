package web_test

import (
	"net/http"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"golang.org/x/net/html"

	"bellbuoy/store/storetest"
)

// frenchSettings are those of a shop in French Canada.
var frenchSettings = strings.Replace(shopSettings, "[shop]\n", "[shop]\ncountry = \"CA\"\nlanguage = \"fr\"\n", 1)

// inFrench opens the worked shop in French Canada, with customers of a language; ""
// is the shop's.
func inFrench(t *testing.T, language string) func(settings string) *testShop {
	return func(settings string) *testShop {
		s := emptyTestShop(t, frenchSettings+settings)
		s.intake(workedFolder(t), workedFiles...)
		for _, id := range []string{"W1", "W2", "W3"} {
			s.speaks(id, language)
		}
		return s
	}
}

// speaks puts a customer's language on file.
func (s *testShop) speaks(id, language string) {
	s.t.Helper()
	c, err := s.app.DB.Customer(s.t.Context(), id)
	if err != nil {
		s.t.Fatal(err)
	}
	c.Language = language
	if err := storetest.SaveCustomer(s.t.Context(), storetest.Writer(s.t, s.app.DB), s.now, "test", c); err != nil {
		s.t.Fatal(err)
	}
}

// facts that stand on pages as somebody entered them.
var entered = strings.NewReplacer("Perch Pressure", "", "Blue Heron", "", "Slow Sunday", "", "Blue Hour", "", "Lindrake Boat Works", "", "Slipway Lane", "", "Lindrake Cove", "",
	"Before the sale", "", "after six", "", "no time", "", "my cousin", "", "a friend", "", "Nov 20", "", "b>many", "")

// words of one language that no page in the other holds.
var (
	englishWords = regexp.MustCompile(`(?i)(^|[^\pL'’])(the|your|you|and|of|is|to|we|us|with|please|not|for|from|this|that|has|are|it|before|after|engine|boats?|week|days?|booked|call|every|done|at|by|about|press|or)([^\pL]|$)`)
	frenchWords  = regexp.MustCompile(`(?i)(^|[^\pL])(le|la|les|des|du|et|votre|vos|vous|nous|est|pour|avec|dans|sur|au|aux|bateau|moteur|semaine|jour|une|un|ou|à)([^\pL]|$)`)
	// what each writes otherwise: months, days, times of day, amounts, decimals.
	englishForms = regexp.MustCompile(`\b((?i:january|february|march|april|june|july|august|september|october|november|december|monday|tuesday|wednesday|thursday|friday|saturday|sunday)|[ap]\.m\.|[AP]M)\b|\$\d|\d\.\d+ *h\b|\d,\d{3}`)
	frenchForms  = regexp.MustCompile(`(?i)\b(janvier|février|mars|avril|juin|juillet|août|septembre|octobre|novembre|décembre|lundi|mardi|mercredi|jeudi|vendredi|samedi|dimanche)\b|\d\x{a0}\$|\d\x{a0}h\x{a0}\d|\d,\d *h\b`)
)

// readable is all that a page says to its reader, by eye or by ear, a line for each
// piece, but what is marked to be in another language; lang is the page's.
func readable(t *testing.T, a answered) (lines []string, lang string) {
	t.Helper()
	if !strings.HasPrefix(a.Header().Get("Content-Type"), "text/html") {
		return []string{a.Body.String()}, ""
	}
	doc, err := html.Parse(strings.NewReader(a.Body.String()))
	if err != nil {
		t.Fatal(err)
	}
	var walk func(n *html.Node)
	walk = func(n *html.Node) {
		for _, at := range n.Attr {
			switch {
			case at.Key == "lang" && n.Data == "html":
				lang = at.Val
			case at.Key == "lang":
				return
			case at.Key == "title", at.Key == "aria-label", at.Key == "placeholder", at.Key == "alt":
				lines = append(lines, at.Val)
			}
		}
		if n.Type == html.TextNode && n.Parent.Data != "textarea" && n.Parent.Data != "style" {
			lines = append(lines, strings.Join(strings.Fields(strings.ReplaceAll(n.Data, "\u00a0", "~")), " "))
		}
		for c := range n.ChildNodes() {
			walk(c)
		}
	}
	walk(doc)
	return lines, lang
}

// speaksOnly holds all that a customer was shown to one language.
func speaksOnly(t *testing.T, all []shown, lang string, not ...*regexp.Regexp) {
	t.Helper()
	seen := make(map[string]bool) // pages share most of their lines
	for _, a := range all {
		if a.Code == http.StatusSeeOther || strings.HasPrefix(a.Header().Get("Content-Type"), "text/calendar") {
			continue
		}
		lines, is := readable(t, a.answered)
		if is != "" && is != lang {
			t.Errorf("%s, %s: html lang=%q", a.route, a.name, is)
		}
		for _, line := range lines {
			if seen[line] || strings.HasPrefix(line, "http") { // an address is no sentence, and its token may spell a word
				continue
			}
			seen[line] = true
			line = strings.ReplaceAll(entered.Replace(line), "~", "\u00a0")
			if strings.ContainsAny(line, "{}") {
				t.Errorf("%s, %s: %q is not filled", a.route, a.name, line)
			}
			for _, words := range not {
				if found := words.FindString(line); found != "" {
					t.Errorf("%s, %s: %q in %q", a.route, a.name, strings.TrimSpace(found), line)
				}
			}
		}
	}
}

// customersRoutes are those that customers open, of the table of routes.
func customersRoutes(s *testShop) []string {
	all := []string{"GET /boats/{id}/delivery-sheet"}
	for _, r := range s.server.Routes() {
		_, path, _ := strings.Cut(r.Pattern, " ")
		if strings.HasPrefix(path, "/my/") || strings.HasPrefix(path, "/stop/") {
			all = append(all, r.Pattern)
		}
	}
	return all
}

// TestEveryPageInFrench: a shop in French Canada speaks French on every page of a
// customer and in every answer to a form.
func TestEveryPageInFrench(t *testing.T) {
	if testing.Short() {
		t.Skip("takes seconds")
	}
	open := inFrench(t, "")
	all := walkAll(t, open)
	tried := make(map[string]bool)
	var said strings.Builder
	for _, a := range all {
		tried[a.route] = true
		said.WriteString(a.text())
	}
	for _, route := range customersRoutes(open("")) {
		if !tried[route] {
			t.Errorf("%s is not tried", route)
		}
	}
	speaksOnly(t, all, "fr", englishWords, englishForms)
	for _, form := range []string{`\d\x{a0}\$`, `\d\x{a0}h\x{a0}\d\d`, `lundi \d+ \pL+ 20\d\d`, `\d,\d\x{a0}h`, `[^\x{a0}]»|«[^\x{a0}]`} {
		if found := regexp.MustCompile(form).MatchString(said.String()); found == strings.Contains(form, "«") {
			t.Errorf("%q is found: %v", form, found)
		}
	}
}

// TestEveryPageInEnglishToo: in the same shop a customer with English on file reads
// English alone.
func TestEveryPageInEnglishToo(t *testing.T) {
	if testing.Short() {
		t.Skip("takes seconds")
	}
	all := walkAll(t, inFrench(t, "en"))
	// Of a link that is no customer's nobody knows the language.
	known := make([]shown, 0, len(all))
	for _, a := range all {
		if !strings.Contains(a.name, "no link") && a.Code != http.StatusInternalServerError {
			known = append(known, a)
		}
	}
	speaksOnly(t, known, "en", frenchWords, frenchForms)
}

// TestAShopsOwnPhraseIsText: a phrase of the shop's own comes out as it was written,
// whatever signs of HTML are in it, between tags and in them.
func TestAShopsOwnPhraseIsText(t *testing.T) {
	own := filepath.Join(t.TempDir(), "texts.toml")
	if err := os.WriteFile(own, []byte("[page]\nback = \"<b onclick=x>Home & dry</b>\"\nskip = \"<i>\"\n[page_my]\ntitle = \"</title><script>\"\nhello_named = \"<u>{name}</u>\"\n[delivery]\ncode = \"\\\" onclick=\\\"x\"\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	s := emptyTestShop(t, shopSettings+"[files]\ntexts = \""+own+"\"\n")
	s.intake(workedFolder(t), workedFiles...)
	my := s.my("W1")
	for path, want := range map[string][]string{
		my:                            {"&lt;i&gt;", "&lt;u&gt;Maren Jørstad&lt;/u&gt;", "<title>&lt;/title&gt;&lt;script&gt;"},
		my + "/calendar":              {"&lt;b onclick=x&gt;Home &amp; dry&lt;/b&gt;"},
		"/boats/PERCH/delivery-sheet": {"&#34; onclick=&#34;x"},
	} {
		page := s.asDesk().get(path).code(http.StatusOK).holds(want...)
		for _, not := range []string{"<i>", "<u>", "<script>", "<b ", `" onclick="x`} {
			if strings.Contains(page.Body.String(), not) {
				t.Errorf("%s holds %s", path, not)
			}
		}
	}
}

package web_test

import (
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"golang.org/x/net/html"
	"golang.org/x/net/html/atom"
)

// mark returns an attribute of a node and whether it has it.
func mark(n *html.Node, key string) (string, bool) {
	for _, a := range n.Attr {
		if a.Key == key {
			return a.Val, true
		}
	}
	return "", false
}

func textOf(n *html.Node) string {
	var all strings.Builder
	for d := range n.Descendants() {
		if d.Type == html.TextNode {
			all.WriteString(d.Data)
		}
	}
	return all.String()
}

// inForm reads a form as a browser would send it, without its buttons.
func inForm(form *html.Node) url.Values {
	v := url.Values{}
	for n := range form.Descendants() {
		name, _ := mark(n, "name")
		kind, _ := mark(n, "type")
		value, has := mark(n, "value")
		if _, ticked := mark(n, "checked"); name == "" || (kind == "checkbox" || kind == "radio") && !ticked {
			continue
		}
		switch n.DataAtom {
		case atom.Input:
			if !has && kind == "checkbox" {
				value = "on"
			}
			v.Add(name, value)
		case atom.Textarea:
			v.Add(name, textOf(n))
		case atom.Select:
			chosen, first := "", true
			for o := range n.Descendants() {
				if _, sel := mark(o, "selected"); o.DataAtom == atom.Option && (first || sel) {
					if chosen, has = mark(o, "value"); !has {
						chosen = strings.TrimSpace(textOf(o))
					}
					first = false
				}
			}
			v.Add(name, chosen)
		}
	}
	return v
}

// TestRefusedFormsKeepWhatWasTyped sends every form that can be refused with
// everything filled in and one thing wrong: all of it is still there, and the
// message stands at its field, which has the focus.
func TestRefusedFormsKeepWhatWasTyped(t *testing.T) {
	s := newTestShop(t)
	desk := s.hire("Inge", "desk")
	my := s.my("W2")
	visit := s.nextVisit("HERON").ID
	work := url.Values{
		"visit": {visit}, "back": {"/calls"}, "day": {"2026-11-20"}, "by": {"elsewhere"}, "hours-HERON-E1": {"412.5"}, "new-HERON-E1": {"on"},
		"job1": {"1"}, "amount0": {"77.00"}, "amount1": {""},
		"free0": {"impeller"}, "part0": {"HERON-E1"}, "freeamount0": {"184.00"}, "free1": {"anodes"}, "part1": {"HERON"}, "freeamount1": {"12.00"},
		"psi-HERON-E1": {"150 148"}, "finding": {"Play in the gimbal bearing"}, "finding-part": {"HERON-E1"}, "finding-service": {"impeller"},
		"finding-due": {"2027-02-01"}, "note": {"Two lines\r\nof remarks <b>&"},
	}
	sale := url.Values{
		"name": {"A Buyer"}, "email": {"a@example.com"}, "contact_by": {"phone"}, "hin": {"QXB3K7T2E717"}, "make": {"Lindrake"}, "model": {"20"}, "year": {"2015"},
		"length_ft": {"20"}, "kind": {"fishing"}, "water": {"salt"}, "boat_name": {"Tern"}, "place": {"Lindrake Cove"}, "berth": {"own-lift"}, "propulsion1": {"outboard"},
		"fuel1": {"diesel"}, "stroke1": {"two"}, "cooling1": {"closed"}, "trailer": {"drum"}, "aboard": {"battery", "generator"}, "day": {"2026-11-20"},
		"warranty": {"30"}, "work": {"impeller", "anodes"}, "remarks": {"As is"}, "flares": {"2027-05-01"},
		"winterized": {"yes"}, "winterized_day": {"2026-11-10"}, "throughout": {"yes"},
	}
	hands := url.Values{"what": {"sold-on"}, "name": {"A Buyer"}, "phone": {"555-0199"}, "contact_by": {"phone"}, "day": {"2026-11-01"}}
	contact := url.Values{"name": {"P. Dunmarrow"}, "phone": {"296-555-0777"}, "email": {"p@example.com"}, "address": {"4 Old Ferry Road"}, "city": {"Elm Point"},
		"region": {"Tamarwick"}, "postal_code": {"00413"}, "contact_by": {"email"}}
	hull := url.Values{"boat_name": {"Night Heron"}, "hin": {"QXT8L2D9A818"}, "make": {"Tarnholm"}, "model": {"Sandling 27"}, "year": {"2019"}, "length_ft": {"27"},
		"boat_kind": {"cruiser"}, "water": {"salt"}, "place": {"Lindrake Cove"}, "berth": {"own-dock"}, "warranty_until": {"2027-05-01"}}
	engine := url.Values{"kind": {"save"}, "part_kind": {"engine"}, "do": {"save"}, "label": {"Kicker"}, "propulsion": {"outboard"}, "fuel": {"gasoline"}, "stroke": {"two"},
		"cooling": {"raw-water"}, "family": {"K9"}, "duty": {"50"}, "in_service": {"2026-06-01"}}
	pages := t.TempDir()
	elsewhere := url.Values{"kind": {"elsewhere"}, "visit": {visit}, "line": {"HERON-E1 transmission-fluid", "HERON-E1 anodes"}, "day": {"2026-11-20"}, "h-HERON-E1": {"412.5"}, "note": {"The yard next door"}}
	for _, c := range []struct {
		name, path string
		sent       url.Values
		field, bad string // what is wrong in which field
		also       string // a field that gets a message of its own, "" for none
	}{
		{"record: day", "/boats/HERON/record", work, "day", "2027-11-20", ""},
		{"record: hours", "/boats/HERON/record", work, "hours-HERON-E1", "many", ""},
		{"record: amount", "/boats/HERON/record", work, "amount1", "a lot", ""},
		{"record: other work's amount", "/boats/HERON/record", work, "freeamount1", "a lot", ""},
		{"record: compression", "/boats/HERON/record", work, "psi-HERON-E1", "good", ""},
		{"record: finding", "/boats/HERON/record", work, "finding-service", "", ""},
		{"record: look again", "/boats/HERON/record", work, "finding-due", "2026-11-19", ""},
		{"hours: day", "/boats/HERON/record", url.Values{"only": {"hours"}, "back": {"/"}, "day": {"2026-11-20"}, "hours-HERON-E1": {"412.5"}, "new-HERON-E1": {"on"}}, "day", "2027-01-01", ""},
		{"book: day", "/boats/HERON/book", url.Values{"do": {"book"}, "visit": {visit}, "back": {"/calls"}, "day": {"2027-01-20"}, "time": {"10:30"}}, "day", "2026-01-20", ""},
		{"book: time", "/boats/HERON/book", url.Values{"do": {"book"}, "visit": {visit}, "back": {"/calls"}, "day": {"2027-01-20"}, "time": {"10:30"}}, "time", "noon", ""},
		{"time off", "/weeks", url.Values{"do": {"absent"}, "technician": {"Inge"}, "from": {"2027-01-20"}, "to": {"2027-01-25"}, "why": {"Holiday"}}, "to", "2027-01-19", ""},
		{"closed day", "/weeks", url.Values{"do": {"close"}, "from": {"2027-01-20"}, "why": {"Stocktaking"}}, "from", "", ""},
		{"sale: day", "/sold", sale, "day", "2027-01-20", ""},
		{"sale: buyer", "/sold", sale, "name", "", ""},
		{"sale: year", "/sold", sale, "year", "MMXV", ""},
		{"sale: length", "/sold", sale, "length_ft", "long", ""},
		{"sale: warranty", "/sold", sale, "warranty", "forever", ""},
		{"sale: flares", "/sold", sale, "flares", "soon", ""},
		{"change of owner: day", "/boats/HERON/owner", hands, "day", "2027-01-20", ""},
		{"change of owner: name", "/boats/HERON/owner", hands, "name", "", ""},
		{"traded in: day", "/boats/HERON/owner", url.Values{"what": {"taken-in"}, "kind": {"ended"}, "day": {"2026-11-01"}}, "day", "2027-01-20", ""},
		{"customer: day of the visit", my + "/answer", url.Values{"kind": {"take"}, "visit": {visit}, "day": {""}, "note": {"A rattle"}}, "day", "none", ""},
		{"customer: done elsewhere, day", my + "/answer", elsewhere, "day", "2027-01-20", ""},
		{"customer: done elsewhere, hours", my + "/answer", elsewhere, "h-HERON-E1", "many", ""},
		{"customer: hours", my + "/answer", url.Values{"kind": {"hours"}, "boat": {"HERON"}, "h-HERON-E1": {"412.5"}, "day": {"2026-11-20"}}, "h-HERON-E1", "many", ""},
		{"customer: hours' day", my + "/answer", url.Values{"kind": {"hours"}, "boat": {"HERON"}, "h-HERON-E1": {"412.5"}, "day": {"2026-11-20"}}, "day", "2027-01-20", ""},
		{"customer: ask later", my + "/answer", url.Values{"kind": {"later"}, "visit": {visit}}, "until", "never", ""},
		{"customer: mails", my + "/answer", url.Values{"kind": {"mails"}}, "mails", "some", ""},
		{"customer's contact: email", "/customers/W2/edit", contact, "email", "at home", ""},
		{"customer's contact: name", "/customers/W2/edit", contact, "name", "", ""},
		{"boat: year", "/boats/HERON/edit", hull, "year", "MMXV", ""},
		{"boat: place", "/boats/HERON/edit", hull, "length_ft", "long", ""},
		{"engine: propulsion", "/boats/HERON/part", engine, "propulsion", "", ""},
		{"engine: duty", "/boats/HERON/part", engine, "duty", "hard", ""},
		{"rule: source", "/boats/HERON/rules", url.Values{"rule": {"coolant"}, "component": {"HERON-E1"}, "how": {"manual"}, "months": {"12"}, "hours": {"100"}}, "source", "", ""},
		{"two faults", "/boats/HERON/record", work, "hours-HERON-E1", "many", "freeamount0"},
	} {
		t.Run(c.name, func(t *testing.T) {
			sent := url.Values{}
			for k, v := range c.sent {
				sent[k] = v
			}
			sent.Set(c.field, c.bad)
			if c.also != "" {
				sent.Set(c.also, "a lot")
			}
			cookie := desk
			if strings.HasPrefix(c.path, "/my/") {
				cookie = "none=none"
			}
			a := s.as(cookie, "POST", c.path, sent).code(http.StatusUnprocessableEntity)
			doc, err := html.Parse(strings.NewReader(a.Body.String()))
			if err != nil {
				t.Fatal(err)
			}
			checkRefused(t, doc, sent, c.field, c.also)
			name := strings.NewReplacer(" ", "-", ":", "", ",", "", "'", "").Replace(c.name) + ".html"
			if err := os.WriteFile(filepath.Join(pages, name), a.Body.Bytes(), 0o600); err != nil {
				t.Fatal(err)
			}
		})
	}
	t.Run("valid", func(t *testing.T) {
		// How a void element ends and a flag is written is the renderer's own way;
		// boxes may share a name.
		validHTML(t, pages, strings.NewReplacer(`"rules": {`, `"rules": {"void-style": "off", "attribute-boolean-style": "off", `, `"radio"`, `"radio", "checkbox"`).Replace(htmlConfig))
	})
}

// checkRefused looks through a page that refuses a form.
func checkRefused(t *testing.T, doc *html.Node, sent url.Values, field, also string) {
	t.Helper()
	var focused, invalid []*html.Node
	ids := map[string]*html.Node{}
	for n := range doc.Descendants() {
		if id, ok := mark(n, "id"); ok {
			if ids[id] != nil {
				t.Errorf("two of id %s", id)
			}
			ids[id] = n
		}
		if _, ok := mark(n, "autofocus"); ok {
			focused = append(focused, n)
		}
		if _, ok := mark(n, "aria-invalid"); ok {
			invalid = append(invalid, n)
		}
	}
	at := &html.Node{}
	if len(focused) == 1 {
		at = focused[0]
	} else {
		t.Errorf("%d fields have the focus, want one", len(focused))
		for n := range doc.Descendants() { // look on where the form is
			if name, _ := mark(n, "name"); name == field {
				at = n
			}
		}
	}
	if name, _ := mark(at, "name"); name != field {
		t.Errorf("field %q has the focus, want %q", name, field)
	}
	if by, _ := mark(at, "aria-describedby"); ids[by] == nil || strings.TrimSpace(textOf(ids[by])) == "" {
		t.Errorf("field %q is described by %q, which is not there", field, by)
	}
	want := 1
	if kind, _ := mark(at, "type"); kind == "radio" {
		want = 0
	}
	if also != "" {
		want++
	}
	if len(invalid) != want {
		t.Errorf("%d fields are marked as wrong, want %d", len(invalid), want)
	}
	var form *html.Node
	for n := range at.Ancestors() {
		if n.DataAtom == atom.Form {
			form = n
		}
		if _, open := mark(n, "open"); n.DataAtom == atom.Details && !open {
			t.Error("the field is folded away")
		}
	}
	got := inForm(form)
	for name, values := range sent {
		if kind, _ := mark(at, "type"); name == "do" || name == "what" && got.Get(name) == "" || name == field && kind == "radio" {
			continue
		}
		for i, v := range values {
			v = strings.ReplaceAll(v, "\r\n", "\n")
			if !slices.Contains(got[name], v) {
				t.Errorf("%s: %q was sent (%d), the page shows %q", name, v, i, got[name])
			}
		}
	}
	for name, values := range got {
		if name != "form" && name != "week" && !sent.Has(name) && name != field && values[0] != "" {
			for n := range form.Descendants() {
				if own, _ := mark(n, "name"); own == name && n.DataAtom == atom.Input {
					if kind, _ := mark(n, "type"); kind == "checkbox" {
						t.Errorf("%s was not ticked, and is now", name)
					}
				}
			}
		}
	}
}

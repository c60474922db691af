package web_test

import (
	"net/http"
	"net/url"
	"regexp"
	"strings"
	"testing"

	"bellbuoy/schedule/testkit"
)

// foreign is how the United States write, in a shop that writes otherwise: a day
// after its month, 12 hours, dollars, °F, feet; and how the shop's own numbers never
// look.
var foreign = regexp.MustCompile(`\b(January|February|March|April|June|July|August|September|October|November|December|Jan|Feb|Mar|Apr|Jun|Jul|Aug|Sep|Oct|Nov|Dec) \d{1,2}\b[^:]|` +
	`\b\d{1,2}:\d\d [AaPp][Mm]\b|\$\d|\d ?°F|\d ft\b|\d gal\b|\d\.\d h\b|€\d[\d.]*,\d\d\d`)

var dayBefore = regexp.MustCompile(`\b\d{1,2} $`)

// TestEveryPageFollowsTheCountry looks at all pages of the desk, the customer and
// the owner in a shop in Germany: "4 May 2027", "14:30", "€1.234", "7,3 m", "2,5 h".
func TestEveryPageFollowsTheCountry(t *testing.T) {
	settings := strings.Replace(shopSettings, "currency = \"$\"\n", "country = \"DE\"\n", 1)
	s := emptyTestShop(t, settings)
	s.now = testkit.Day(2027, 4, 20).At(10, 0, s.app.Config.Zone())
	s.intake(workedFolder(t), workedFiles...)
	cookie := s.hire("Odile", "owner")
	v := s.nextVisit("PERCH")
	pages := append(s.deskPages(), "/owner", "/owner/returning", "/owner/lapsed", "/owner/ahead", "/owner/work", "/owner/season", "/owner/report", "/freeze", "/replies")
	for _, path := range pages {
		a := s.as(cookie, "GET", path, nil)
		if a.Code != http.StatusOK && path != "/no-such-page" {
			t.Errorf("%s answered %d", path, a.Code)
		}
		if strings.HasPrefix(path, "/settings/formats") {
			continue // shows every way there is, to choose from
		}
		checkForeign(t, path, a.text())
	}
	my := s.my("W1")
	for _, path := range []string{my, my + "/visit/" + url.PathEscape(v.ID), my + "/calendar", my + "/record/PERCH"} {
		checkForeign(t, path, s.get(path).code(http.StatusOK).text())
	}
	s.as(cookie, "GET", "/", nil).code(http.StatusOK).says("Tuesday, 20 April 2027")
}

func checkForeign(t *testing.T, path, text string) {
	t.Helper()
	for _, at := range foreign.FindAllStringIndex(text, -1) {
		if before := text[:at[0]]; dayBefore.MatchString(before) || strings.HasSuffix(before, "Water below 7") || strings.HasSuffix(before, "-2.2 °C is 2") {
			continue // "12 Apr 26 Apr", the words of a rule, a setting in °C beside the °F that people know
		}
		t.Errorf("%s: %q", path, text[max(0, at[0]-40):min(len(text), at[1]+20)])
	}
}

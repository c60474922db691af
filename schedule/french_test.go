package schedule_test

import (
	"fmt"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"bellbuoy/schedule"
	"bellbuoy/schedule/rules"
	"bellbuoy/schedule/texts"
	"bellbuoy/schedule/words"
)

// canadian are the settings of a shop in Canada.
func canadian(t *testing.T) schedule.Settings {
	t.Helper()
	set := schedule.DefaultSettings()
	var err error
	if set.Format, err = words.New(words.Choices{Country: "CA"}); err != nil {
		t.Fatal(err)
	}
	return set
}

// TestFrenchOfHandWorkedCases reads every hand-worked case as its French-speaking
// owner does.
func TestFrenchOfHandWorkedCases(t *testing.T) {
	n := 0
	eachCase(t, canadian(t), func(c *handWorked, t *testing.T, pl *schedule.Planner) {
		f := c.facts()
		f.Place.Source = "" // it comes in the reader's language
		p := pl.Plan(f, d(c.Today))
		said, catalogue := ownersTexts(pl.ViewIn("fr", f, &p).ForOwner())
		if pl.Catalogue().ServiceTitleIn("fr", "lay-up") == "Hivernage" { // that of the cases has no French
			said = append(said, catalogue...)
		}
		for _, s := range said {
			frenchOnly(t, s)
		}
		n += len(said)
	})
	if n < 500 {
		t.Errorf("only %d texts read", n)
	}
}

// TestFrenchOfVariedBoats reads those of the golden files. What the shop and the
// owner wrote themselves stays as it is, and is taken out here.
func TestFrenchOfVariedBoats(t *testing.T) {
	pl := schedule.NewPlanner(catalogue(t), canadian(t))
	for _, b := range variedBoats() {
		b.f.Place.Source = "" // it comes in the reader's language
		var own []string
		for _, fu := range b.f.FollowUps {
			own = append(own, fu.Title, "", strings.TrimRight(fu.Finding, "."), "")
		}
		for _, o := range b.f.Overrides {
			if s := strings.TrimRight(o.Source, "."); s != "" {
				own = append(own, s, "")
			}
		}
		for _, c := range b.f.Components {
			if c.Label != "" {
				own = append(own, "("+c.Label+")", "")
			}
		}
		plan := pl.Plan(b.f, d(b.today))
		b.f.Prior = pencilled(plan.Visits, d(b.today))
		plan = pl.Plan(b.f, d(b.today))
		reasons, catalogue := ownersTexts(pl.ViewIn("fr", b.f, &plan).ForOwner())
		for _, s := range append(reasons, catalogue...) {
			frenchOnly(t, strings.NewReplacer(own...).Replace(s))
		}
	}
}

// TestFrenchViewOfABoat compares all that the owner of one boat can read with a file
// that somebody has read.
func TestFrenchViewOfABoat(t *testing.T) {
	set := canadian(t)
	pl := schedule.NewPlanner(catalogue(t), set)
	boats := variedBoats()
	b := boats[slices.IndexFunc(boats, func(b variedBoat) bool { return b.name == "twins-share-a-visit" })]
	plan := pl.Plan(b.f, d(b.today))
	b.f.Prior = pencilled(plan.Visits, d(b.today))
	plan = pl.Plan(b.f, d(b.today))
	b.f.Place.Source = "la première nuit à 0 °C ou moins est venue au plus tard le 10 octobre dans une année sur dix"
	view := pl.ViewIn("fr", b.f, &plan).ForOwner()
	var s strings.Builder
	s.WriteString(reading(view, &plan, set.Format.In("fr"), b.today))
	for i := range view.Visits {
		v := &view.Visits[i]
		fmt.Fprintf(&s, "\n%s, %s\n", v.Title, set.Format.In("fr").WholeMoney(v.Visit.Price))
		for k := range v.Lines {
			fmt.Fprintf(&s, "- %s\n", v.Lines[k].Consequence)
		}
		for _, c := range schedule.OwnerCautions(v.Lines, 20) {
			fmt.Fprintf(&s, "! %s\n", c)
		}
		for _, c := range v.Stays {
			fmt.Fprintf(&s, "= %s\n", c)
		}
	}
	golden(t, filepath.Join("testdata", "why", "twins-share-a-visit.fr.golden"), s.String())
}

// TestShopsOwnPhraseInAReason: a phrase of the shop's file reaches the reasons.
func TestShopsOwnPhraseInAReason(t *testing.T) {
	set := canadian(t)
	own, err := texts.Read("shop.toml", []byte("[fr.reasons.visit]\nlay-up = \"Entreposage\"\n"))
	if err != nil {
		t.Fatal(err)
	}
	set.Texts = own
	pl := schedule.NewPlanner(catalogue(t), set)
	f := facts(engine("E1"))
	plan := pl.Plan(f, d("2026-08-01"))
	if v := pl.ViewIn("fr", f, &plan); v.Visits[0].Title != "Entreposage" {
		t.Errorf("the visit is called %q", v.Visits[0].Title)
	}
	if v := pl.View(f, &plan); v.Visits[0].Title != "Winterization" {
		t.Errorf("in English it is called %q", v.Visits[0].Title)
	}
}

func catalogue(t *testing.T) *rules.Catalogue {
	t.Helper()
	cat, err := rules.Default()
	if err != nil {
		t.Fatal(err)
	}
	return cat
}

// ownersTexts are all the texts of a view: reasons, and what a catalogue says.
func ownersTexts(v schedule.BoatView) (reasons, rules []string) {
	lines := func(lines []schedule.Line) {
		for i := range lines {
			reasons = append(reasons, lines[i].Why)
			rules = append(append(rules, lines[i].Title, lines[i].Consequence), lines[i].Cautions...)
		}
	}
	lines(v.Loose)
	for i := range v.Visits {
		reasons = append(reasons, v.Visits[i].Title, v.Visits[i].Why, v.Visits[i].WeekWhy)
		rules = append(rules, v.Visits[i].Stays...)
		lines(v.Visits[i].Lines)
	}
	return reasons, rules
}

// englishWords are words of English reasons that French does not have.
var englishWords = regexp.MustCompile(`(?i)\b(the|is|are|was|by|it|its|of|and|so|with|before|boat|boats|done|every|week|winterization|spring|record)\b`)

func frenchOnly(t *testing.T, s string) {
	t.Helper()
	// A title that the catalogue of the cases has in English only is quoted.
	if word := englishWords.FindString(regexp.MustCompile(`«[^»]*»`).ReplaceAllString(s, "")); word != "" {
		t.Errorf("%q in %q", word, s)
	}
	switch {
	case strings.ContainsAny(s, "{}"):
		t.Errorf("a brace in %q", s)
	case strings.Contains(s, " :") || strings.Contains(s, " ;") || strings.Contains(s, "« ") || strings.Contains(s, "\u00a0;"):
		t.Errorf("a space that is none in French in %q", s)
	}
}

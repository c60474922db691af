package rules_test

import (
	"fmt"
	"strings"
	"testing"

	"bellbuoy/schedule/rules"
)

const bilingual = `
[[rule]]
code = "impeller"
title = "Water pump impeller (outboard)"
owner_title = "Water pump impeller"
component = "engine"
every = { months = 12 }
consequence = "It overheats."
cautions = ["cold-water", "lifting"]
[rule.fr]
title = "Turbine de pompe à eau"
consequence = "Il surchauffe."

[[rule]]
code = "grease"
title = "Grease points"
component = "engine"
every = { months = 12 }
if_it_stays = "wipe it"

[[service]]
code = "repair"
title = "Repair"
[service.fr]
title = "Réparation"

[[family]]
name = "fours"
title = "The fours"
[family.fr]
title = "Les quatre-temps"

[[caution]]
code = "cold-water"
text = "Water below {temperature:21} is cold."
owner = "Mind water below {temperature:21}."
life = true
[caution.fr]
owner = "Attention à l'eau sous {temperature:21}."

[[caution]]
code = "lifting"
text = "Nobody under the load."
`

func catalogueOf(t *testing.T, text string) *rules.Catalogue {
	t.Helper()
	c, err := rules.Parse("own.toml", []byte(text))
	if err != nil {
		t.Fatal(err)
	}
	return c
}

func TestWordsByLanguage(t *testing.T) {
	base := &rules.Catalogue{}
	c := base.Extend(catalogueOf(t, bilingual)).Measured(func(language string, celsius int) string { return fmt.Sprintf("%d %s", celsius, language) }, func(u string) (string, float64) { return u, 1 })
	r, _ := c.Rule("impeller")
	fr, en := r.Words("fr"), r.Words("en")
	for got, want := range map[string]string{
		fr.Title: "Turbine de pompe à eau", fr.Consequence: "Il surchauffe.", fr.Cautions[0].Text: "Attention à l'eau sous 21 fr.",
		en.Title: "Water pump impeller", en.Consequence: "It overheats.", en.Cautions[0].Text: "Mind water below 21 en.",
		r.Cautions[0]:                        "Water below 21 en is cold.",
		c.ServiceTitleIn("fr", "repair"):     "Réparation",
		c.ServiceTitleIn("fr", "impeller"):   "Turbine de pompe à eau",
		c.ServiceTitleIn("fr", "grease"):     "Grease points",
		c.ServiceTitleIn("fr", "nobody"):     "nobody",
		c.ServiceTitleIn("en", "repair"):     "Repair",
		c.Families[0].TitleIn("fr"):          "Les quatre-temps",
		c.Families[0].TitleIn("nl"):          "The fours",
		fmt.Sprint(fr.Cautions[0].Life):      "true",
		fmt.Sprint(len(r.Words("nl").Title)): "19",
	} {
		if got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
	lacking, all := c.Lacking("fr")
	var says []string
	for _, f := range lacking {
		says = append(says, f.String())
	}
	if all != 7 || len(lacking) != 2 || !strings.Contains(says[0], `rule "grease": no title`) || !strings.Contains(says[1], "no if_it_stays") {
		t.Errorf("of %d lacking: %s", all, strings.Join(says, "\n"))
	}
}

// TestChangedWordsByLanguage: what a shop changes in English alone is read in English
// by everybody, and the catalogue that it changes stays as it was.
func TestChangedWordsByLanguage(t *testing.T) {
	base := (&rules.Catalogue{}).Extend(catalogueOf(t, bilingual))
	title := func(c *rules.Catalogue, language string) string {
		r, _ := c.Rule("impeller")
		return r.Words(language).Title
	}
	for change, want := range map[string]string{
		"price = 1.00":                                                  "Turbine de pompe à eau",
		"title = \"Impeller of ours\"":                                  "Impeller of ours",
		"[change.fr]\ntitle = \"Notre turbine\"":                        "Notre turbine",
		"title = \"Impeller\"\n[change.fr]\ntitle = \"Notre turbine\"":  "Notre turbine",
		"owner_title = \"Impeller of ours\"":                            "Impeller of ours",
		"[change.fr]\nconsequence = \"Il surchauffe très rapidement.\"": "Turbine de pompe à eau",
	} {
		c := base.Extend(catalogueOf(t, "[[change]]\nrule = \"impeller\"\n"+change+"\n"))
		if got := title(c, "fr"); got != want {
			t.Errorf("%s: %q, want %q", change, got, want)
		}
		if got := title(base, "fr"); got != "Turbine de pompe à eau" {
			t.Fatalf("%s: the built-in one is %q now", change, got)
		}
	}
}

func TestBadWordsByLanguage(t *testing.T) {
	for name, c := range map[string]struct{ text, want string }{
		"unknown key":       {"[[rule]]\ncode = \"a\"\ntitle = \"A\"\ncomponent = \"hull\"\n[rule.fr]\ntitel = \"x\"\n", `own.toml:6: rule "a": fr.titel: unknown key; did you mean "title"?`},
		"no title":          {"[[service]]\ncode = \"a\"\ntitle = \"A\"\n[service.fr]\n", `fr.title: missing`},
		"not a text":        {"[[rule]]\ncode = \"a\"\ntitle = \"A\"\ncomponent = \"hull\"\n[rule.fr]\ntitle = 3\n", `fr.title: want a text`},
		"not a language":    {"[[rule]]\ncode = \"a\"\ntitle = \"A\"\ncomponent = \"hull\"\n[rule.french]\ntitle = \"x\"\n", `french: unknown key`},
		"a brace":           {"[[caution]]\ncode = \"a\"\ntext = \"below {70}\"\n", `text: nothing fills the braces`},
		"a brace in French": {"[[caution]]\ncode = \"a\"\ntext = \"A\"\nowner = \"A\"\n[caution.fr]\nowner = \"{temp:3}\"\n", `fr: nothing fills the braces`},
	} {
		if _, err := rules.Parse("own.toml", []byte(c.text)); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v, want %q in it", name, err, c.want)
		}
	}
}

func TestFrenchOfTheBuiltInCatalogueIsComplete(t *testing.T) {
	c, err := rules.Default()
	if err != nil {
		t.Fatal(err)
	}
	lacking, all := c.Lacking("fr")
	for _, f := range lacking {
		t.Error(f)
	}
	if all < 250 {
		t.Errorf("only %d texts", all)
	}
}

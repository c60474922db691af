package rules_test

import (
	"fmt"
	"os"
	"strings"
	"testing"

	"bellbuoy/schedule/rules"
)

// tabled are the files whose rules stand in catalogue/README.md.
var tabled = []string{"battery.toml", "generator.toml", "inboard.toml"}

const tableHead = `# The rules where money or a sinking hangs on it

Inboards, stern gear, the seawater side, water systems, diesel fuel, generators,
personal watercraft: what each of these rules applies to, when it falls due, and
where its figures come from. Written from the files by the tests
(go test ./schedule/rules -update); change the files.

Every interval is a default: this engine's manual comes first. Where makers
print only a range, the rule has no price, and this maker's manual decides.
Labor minutes and prices are invented, of a plausible size; a shop sets its own.
"Published" names a document, "common practice" what yards and owners do with no
document behind it, "memory" what nobody has looked up.

`

func TestTableOfRules(t *testing.T) {
	c := catalogue(t)
	var b strings.Builder
	b.WriteString(tableHead)
	b.WriteString("| Code | Applies to | Trigger | Source | Labor, min | Price |\n|---|---|---|---|---|---|\n")
	for i := range c.Rules {
		r := &c.Rules[i]
		for _, file := range tabled {
			if r.File == "catalogue/"+file {
				tableRow(&b, r)
			}
		}
	}
	const page = "catalogue/README.md"
	if *update {
		if err := os.WriteFile(page, []byte(b.String()), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(page)
	if err != nil {
		t.Fatal(err)
	}
	if b.String() != string(want) {
		t.Errorf("%s no longer says what the files say; write it with -update and look at the difference", page)
	}
}

func tableRow(b *strings.Builder, r *rules.Rule) {
	applies := r.Component
	for _, w := range r.Where {
		applies += fmt.Sprintf(", %s %s", w.Key, strings.ReplaceAll(" "+strings.Join(w.Any, " or "), "  or", " not recorded or")[1:])
	}
	var sources []string
	for _, s := range r.Sources {
		sources = append(sources, strings.ReplaceAll(s.Kind, "-", " ")+": "+s.Text)
	}
	price := "none"
	if r.Price > 0 {
		price = r.Price.String()
	}
	fmt.Fprintf(b, "| `%s` | %s | %s | %s | %d | %s |\n", r.Code, applies, trigger(r), strings.Join(sources, "; "), r.Labour, price)
}

// trigger words when a rule falls due.
func trigger(r *rules.Rule) string {
	span := func(iv rules.Interval) string {
		var parts []string
		if iv.Hours > 0 {
			parts = append(parts, iv.Hours.String()+" h")
		}
		if iv.Months > 0 {
			parts = append(parts, fmt.Sprintf("%d months", iv.Months))
		}
		return strings.Join(parts, " or ")
	}
	var parts []string
	if r.Season != "" {
		parts = append(parts, "each "+r.Season)
	}
	if !r.First.IsZero() {
		parts = append(parts, "first "+span(r.First))
	}
	if !r.Every.IsZero() {
		parts = append(parts, "every "+span(r.Every))
	}
	if r.StoredDays > 0 {
		parts = append(parts, fmt.Sprintf("every %d days in storage with us", r.StoredDays))
	}
	if len(r.After) > 0 {
		parts = append(parts, "after "+strings.Join(r.After, ", "))
	}
	return strings.Join(parts, ", ")
}

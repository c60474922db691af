package rules_test

import (
	"strings"
	"testing"

	"bellbuoy/schedule/rules"
)

// plain is a rule with nothing wrong. Tests plant one fault in it.
const plain = `[[rule]]
code = "wash"
title = "Hull washed"
component = "hull"
every = { months = 12 }
early_days = 75
grace_days = 45
labor = 30
price = 89.50
consequence = "It stays dirty."
sources = [{ kind = "common-practice", text = "our habit" }]
`

func TestParseReadsARule(t *testing.T) {
	c := parse(t, `
[[rule]]
code = "impeller"
title = "Impeller"
component = "engine"
where = { propulsion = ["outboard", ""], fuel = "gasoline" }
first = { hours = 20, months = 3 }
every = { hours = 300.5, months = 36 }
covers = ["impeller-check"]
early_days = 120
grace_days = 90
labor = 75
parts = [{ code = "IMP", name = "Impeller kit" }, { code = "OIL", name = "Oil", quantity = 0.5, unit = "l" }]
price = "229.5"
inspect = true
sources = [{ kind = "published", text = "Manual, p. 35" }]
`)
	r, ok := c.Rule("impeller")
	if !ok {
		t.Fatal("no rule")
	}
	if r.File != "shop.toml" || r.Line != 2 {
		t.Errorf("stands at %s:%d, want shop.toml:2", r.File, r.Line)
	}
	if r.Service != "impeller" || strings.Join(r.RideAlong, " ") != "lay-up fit-out extra" {
		t.Errorf("defaults: service %q, rides with %v", r.Service, r.RideAlong)
	}
	if r.Every.Hours != 3005 || r.First.Months != 3 || r.Price != 22950 || !r.Inspect {
		t.Errorf("figures read as %+v", r)
	}
	if len(r.Where) != 2 || r.Where[0].Key != "fuel" || r.Where[1].Any[0] != "" {
		t.Errorf("conditions read as %+v, want them in order of key with values in order", r.Where)
	}
	if r.Parts[0].Quantity != 1 || r.Parts[0].Unit != "piece" || r.Parts[1].Quantity != 0.5 {
		t.Errorf("parts read as %+v", r.Parts)
	}
}

func TestParseFaults(t *testing.T) {
	for _, c := range []struct{ name, old, new, want string }{
		{"misspelt key", "every = { months", "evrey = { months", `shop.toml:5: rule "wash": evrey: unknown key; did you mean "every"?`},
		{"misspelt key within", "{ months = 12 }", "{ monts = 12 }", `shop.toml:5: rule "wash": every.monts: unknown key; did you mean "months"?`},
		{"key like no other", "labor = 30", "xxxxxxxxxxxxxxxx = 30", `shop.toml:8: rule "wash": xxxxxxxxxxxxxxxx: unknown key; take it out`},
		{"text for a number", "{ months = 12 }", `{ months = "twelve" }`, `shop.toml:5: rule "wash": every.months: want whole months from 0 to 600, got "twelve"`},
		{"months and a half", "{ months = 12 }", "{ months = 1.5 }", `every.months: want whole months from 0 to 600, got 1.5`},
		{"negative", "early_days = 75", "early_days = -1", `shop.toml:6: rule "wash": early_days: want whole days from 0 to 3650, got -1`},
		{"hours too fine", "{ months = 12 }", "{ hours = 100.25 }", `every.hours: want engine hours with at most one decimal`},
		{"interval of nothing", "{ months = 12 }", "{ months = 0 }", `every: says nothing; give months, hours or both`},
		{"interval not a table", "{ months = 12 }", "12", `every: want a table`},
		{"price with a sign", "89.50", `"$89.50"`, `shop.toml:9: rule "wash": price: want money with at most two decimals, for example 89.50, got "$89.50"`},
		{"price too fine", "89.50", "89.505", `price: want money`},
		{"price below nought", "89.50", "-1", `price: want money`},
		{"no title", `title = "Hull washed"`, "", `rule "wash": title: missing; add a line title = "..."`},
		{"empty title", `"Hull washed"`, `""`, `title: want a text in quotes, got ""`},
		{"no component", `component = "hull"`, "", `component: missing`},
		{"no code", `code = "wash"`, "", `shop.toml:1: rule: code: missing; every rule needs one`},
		{"code with a blank", `code = "wash"`, `code = "Hull wash"`, `rule "Hull wash": code: want small letters, digits and hyphens`},
		{"no such season", "labor = 30", `season = "winter"`, `season: unknown season "winter"; use "lay-up" or "fit-out"`},
		{"no such visit", "labor = 30", `ride_along = ["summer"]`, `ride_along: unknown kind of visit "summer"`},
		{"no such source", `"common-practice"`, `"gossip"`, `shop.toml:11: rule "wash": sources.kind: unknown kind of source "gossip"`},
		{"source by address", `"our habit"`, `"https://example.org/x"`, `sources.text: names an address`},
		{"source without text", `, text = "our habit"`, "", `sources.text: missing`},
		{"condition of nothing", "labor = 30", `where = { water = [] }`, `where.water: allows no value`},
		{"condition not text", "labor = 30", `where = { water = 3 }`, `where.water: want a list of texts`},
		{"condition twice the same", "labor = 30", `where = { water = ["salt", "salt"] }`, `where.water: "salt" stands there twice`},
		{"condition on no name", "labor = 30", `where = { "Boat Kind" = "sail" }`, `want an attribute's name`},
		{"part of nothing", "labor = 30", `parts = [{ code = "X", name = "X", quantity = 0 }]`, `parts.quantity: want more than 0`},
		{"parts not tables", "labor = 30", `parts = ["X"]`, `parts: want tables only, got "X"`},
		{"flag in quotes", "labor = 30", `legal = "yes"`, `legal: want true or false, got "yes"`},
		{"expiry from the moon", "labor = 30", `expiry = { from = "moon" }`, `expiry.from: want "component" or "warranty", got "moon"`},
		{"expiry two ways", "labor = 30", `expiry = { years_after_made = 1, months_after_made = 1 }`, `expiry.months_after_made: stands beside years_after_made`},
		{"warranty with a birthday", "labor = 30", `expiry = { from = "warranty", years_after_made = 1 }`, `expiry.from: a warranty has no day of manufacture`},
		{"misspelt table", "[[rule]]", "[[rules]]", `shop.toml:1: rules: unknown key; did you mean "rule"?`},
		{"not TOML", "labor = 30", "labour = = 30", `shop.toml:8: not TOML from here on`},
	} {
		t.Run(c.name, func(t *testing.T) {
			text := strings.Replace(plain, c.old, c.new, 1)
			if text == plain {
				t.Fatalf("%q is not in the plain rule", c.old)
			}
			_, err := rules.Parse("shop.toml", []byte(text))
			if err == nil || !strings.Contains(err.Error(), c.want) {
				t.Errorf("got:  %v\nwant: %s", err, c.want)
			}
		})
	}
}

func TestParseOtherTables(t *testing.T) {
	for _, c := range []struct{ name, text, want string }{
		{"twins", plain + plain, `shop.toml:12: rule "wash": stands at line 1 already`},
		{"service without title", "[[service]]\ncode = \"tow\"\n", `shop.toml:1: service "tow": title: missing`},
		{"family rule without code", "[[family]]\nname = \"a\"\ntitle = \"A\"\n[[family.rule]]\nskip = true\n", `shop.toml:4: family "a": rule.code: missing`},
		{"usage of nothing", "[[usage]]\nboat_kind = \"sail\"\nmean_hours = 0\nweight = 1\nouting_hours = 1\n", `shop.toml:3: usage "sail": mean_hours: want a number above 0`},
		{"eleven months", "[running]\nmonths = [1,1,1,1,1,1,1,1,1,1,1]\n", `shop.toml:2: running.months: want twelve numbers`},
		{"months not numbers", "[running]\nmonths = [\"a\"]\n", `running.months: want numbers`},
		{"idle year", "[running]\nmonths = [0,0,0,0,0,0,0,0,0,0,0,0]\n", `not all 0`},
		{"change of nothing", "[[change]]\nrule = \"wash\"\n", `change "wash": rule: nothing is changed`},
		{"change of what may not", "[[change]]\nrule = \"wash\"\ncomponent = \"hull\"\n", `change "wash": component: unknown key`},
		{"drop without a name", "[[drop]]\n", `shop.toml:1: drop: rule: missing`},
		{"pricing without kind", "[pricing]\ntext = \"x\"\n", `pricing.kind: missing`},
		{"caution without text", "[[caution]]\ncode = \"hot\"\n", `caution "hot": text: missing`},
		{"part without a price", "[[part]]\ncode = \"WASH\"\n", `shop.toml:1: part "WASH": cost: missing`},
		{"part without a code", "[[part]]\ncost = 3\n", `part "": code: missing`},
		{"part at a loss", "[[part]]\ncode = \"WASH\"\ncost = -3\n", `part "WASH": cost: want money`},
		{"part priced twice", "[[part]]\ncode = \"WASH\"\ncost = 3\n[[part]]\ncode = \"WASH\"\nunit = \"piece\"\ncost = 4\n", `part "WASH by the piece": stands at line 1 already`},
		{"one table where a list belongs", "[rule]\ncode = \"wash\"\n", `rule: want a list of tables`},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := rules.Parse("shop.toml", []byte(c.text))
			if err == nil || !strings.Contains(err.Error(), c.want) {
				t.Errorf("got:  %v\nwant: %s", err, c.want)
			}
		})
	}
}

// Whoever corrects a file wants one list, in order of line.
func TestParseTellsEveryFaultAtOnce(t *testing.T) {
	text := strings.NewReplacer("{ months = 12 }", "{ monts = 12 }", "labor = 30", "labor = -30", "89.50", "true").Replace(plain)
	_, err := rules.Parse("shop.toml", []byte(text))
	if err == nil {
		t.Fatal("accepted")
	}
	var lines []string
	for _, l := range strings.Split(err.Error(), "\n") {
		lines = append(lines, strings.SplitN(l, " ", 2)[0])
	}
	if got, want := strings.Join(lines, " "), "shop.toml:5: shop.toml:5: shop.toml:8: shop.toml:9:"; got != want {
		t.Errorf("faults at %s, want %s:\n%v", got, want, err)
	}
}

func FuzzParse(f *testing.F) {
	f.Add([]byte(plain))
	f.Add(rules.ShopExample())
	f.Add([]byte("[[family]]\nname='a'\n[[family.rule]]\ncode='x'\n[family.rule.every]\nmonths=1\n"))
	f.Add([]byte("rule = [{code='a', where={x=''}}, 3]\n[running]\nmonths=[nan, inf]\n"))
	f.Add([]byte("a.b.c = 1\n\"\" = {\"a.b\" = [[{}]]}\n[pricing]\n"))
	base, err := rules.Default()
	if err != nil {
		f.Fatal(err)
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		c, err := rules.Parse("f.toml", data)
		if err != nil {
			for _, line := range strings.Split(err.Error(), "\n") {
				if line == "" || !strings.HasPrefix(err.Error(), "f.toml:") {
					t.Fatalf("a fault without file and line: %q", err)
				}
			}
			return
		}
		last := 1 + strings.Count(string(data), "\n")
		for _, r := range c.Rules {
			if r.Line < 1 || r.Line > last || r.Code == "" || r.Title == "" || r.Price < 0 {
				t.Fatalf("accepted %+v from a file of %d lines", r, last)
			}
		}
		base.Extend(c).Check() // must not panic
	})
}

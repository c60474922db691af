package rules_test

import (
	"cmp"
	"fmt"
	"reflect"
	"regexp"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"bellbuoy/schedule/rules"
)

// some draws a catalogue out of the shipped one's entries.
func some(t *rapid.T, from *rules.Catalogue, label string) *rules.Catalogue {
	c := &rules.Catalogue{}
	for _, i := range rapid.SliceOfNDistinct(rapid.IntRange(0, len(from.Rules)-1), 0, 12, rapid.ID).Draw(t, label+" rules") {
		c.Rules = append(c.Rules, from.Rules[i])
	}
	for _, i := range rapid.SliceOfNDistinct(rapid.IntRange(0, len(from.Services)-1), 0, 5, rapid.ID).Draw(t, label+" services") {
		c.Services = append(c.Services, from.Services[i])
	}
	if rapid.Bool().Draw(t, label+" profile") {
		c.MonthProfile, c.MonthSource, c.Pricing = from.MonthProfile, from.MonthSource, from.Pricing
	}
	return c
}

func TestExtendProperties(t *testing.T) {
	full := catalogue(t)
	rapid.Check(t, func(t *rapid.T) {
		a, b := some(t, full, "base"), some(t, full, "shop")
		for i := range b.Rules {
			b.Rules[i].Price += 100 // to tell whose rule won
		}
		beforeA, beforeB := fmt.Sprintf("%+v", *a), fmt.Sprintf("%+v", *b)
		both := a.Extend(b)
		if fmt.Sprintf("%+v", *a) != beforeA || fmt.Sprintf("%+v", *b) != beforeB {
			t.Fatal("Extend changed one of its catalogues")
		}
		if got := a.Extend(&rules.Catalogue{}); !reflect.DeepEqual(got, a) {
			t.Fatalf("extending by nothing changed the catalogue:\n%+v\n%+v", got, a)
		}
		if got := both.Extend(b); !reflect.DeepEqual(got, both) {
			t.Fatal("extending twice by the same differs from once")
		}
		for i := range both.Rules {
			r := &both.Rules[i]
			want, inShop := b.Rule(r.Code)
			if !inShop {
				want, _ = a.Rule(r.Code)
			}
			if want == nil || !reflect.DeepEqual(*r, *want) {
				t.Fatalf("rule %q is neither the shop's nor the base's", r.Code)
			}
		}
		for _, from := range []*rules.Catalogue{a, b} {
			for _, code := range from.ServiceCodes() {
				if !both.HasService(code) {
					t.Fatalf("service %q got lost", code)
				}
			}
		}
	})
}

func TestExtendShippedByNothingIsIdentity(t *testing.T) {
	c := catalogue(t)
	if got := c.Extend(&rules.Catalogue{}); !reflect.DeepEqual(got, c) {
		t.Error("extending the shipped catalogue by nothing changed it")
	}
}

func TestChange(t *testing.T) {
	base := catalogue(t)
	old, _ := base.Rule("lay-up-outboard")
	was := *old
	c := base.Extend(parse(t, `
[[change]]
rule = "lay-up-outboard"
title = "Lay-up with oil"
covers = ["engine-oil"]
ride_along = ["lay-up", "extra"]
early_days = 60
grace_days = 3
labor = 160
parts = [{ code = "KIT", name = "Kit" }]
price = 389
by_customer = true
sources = [{ kind = "common-practice", text = "ours" }]
[[change]]
rule = "impeller"
first = { hours = 50 }
every = { hours = 500, months = 30 }
`))
	got, _ := c.Rule("lay-up-outboard")
	if got.Title != "Lay-up with oil" || !slices.Equal(got.Covers, []string{"engine-oil"}) ||
		!slices.Equal(got.RideAlong, []string{"lay-up", "extra"}) || got.EarlyDays != 60 || got.GraceDays != 3 ||
		got.Labour != 160 || got.Parts[0].Code != "KIT" || got.Price != 38900 || !got.ByCustomer || got.Sources[0].Text != "ours" {
		t.Errorf("not every change took effect: %+v", got)
	}
	if got.Season != was.Season || got.Consequence != was.Consequence || !reflect.DeepEqual(got.Where, was.Where) || got.File != was.File {
		t.Errorf("what was not named changed: %+v", got)
	}
	imp, _ := c.Rule("impeller")
	if want := (rules.Interval{Months: 30, Hours: 5000}); imp.Every != want || imp.First.Hours != 500 || imp.Price == 0 {
		t.Errorf("impeller is now %+v", imp)
	}
	if again, _ := base.Rule("lay-up-outboard"); !reflect.DeepEqual(*again, was) {
		t.Error("the base catalogue changed")
	}
}

// Lists within a rule are shared by both catalogues only if nobody writes them.
func TestExtendSharesNoCautions(t *testing.T) {
	base := parse(t, "[[caution]]\ncode = \"hot\"\ntext = \"It is hot.\"\n"+with("labor = 30", "labor = 30\ncautions = [\"hot\", \"Plain text.\"]"))
	c := (&rules.Catalogue{}).Extend(base)
	if r, _ := c.Rule("wash"); !slices.Equal(r.Cautions, []string{"It is hot.", "Plain text."}) {
		t.Errorf("cautions are %q", r.Cautions)
	}
	if r, _ := base.Rule("wash"); r.Cautions[0] != "hot" {
		t.Error("the parsed catalogue changed")
	}
}

func TestDropKeepsTheService(t *testing.T) {
	c := catalogue(t).Extend(parse(t, "[[drop]]\nrule = \"life-jacket-check\"\n"))
	if _, ok := c.Rule("life-jacket-check"); ok {
		t.Error("the rule is still there")
	}
	if !c.HasService("life-jacket-check") || c.ServiceTitle("life-jacket-check") != "Inflatable life jacket: yearly check" {
		t.Error("a history can no longer name its service")
	}
}

func TestServiceTitles(t *testing.T) {
	c := catalogue(t)
	for code, want := range map[string]string{
		"lay-up":           "Winterization",                           // its own title, not a rule's
		"impeller":         "Water pump impeller",                     // the rule of that name, not the diesel's
		"anodes":           "Anodes checked, replaced when half gone", // likewise
		"compression-test": "Compression test",                        // no rule asks for it
		"no-such-thing":    "no-such-thing",
	} {
		if got := c.ServiceTitle(code); got != want {
			t.Errorf("title of %q is %q, want %q", code, got, want)
		}
	}
	for _, code := range []string{"repair", "diagnostics", "compression-test", "storage-inside", "lay-up", "reconditioning"} {
		if !c.HasService(code) {
			t.Errorf("a history cannot name %q", code)
		}
	}
	if codes := c.ServiceCodes(); !slices.IsSorted(codes) || len(slices.Compact(slices.Clone(codes))) != len(codes) {
		t.Error("service codes are not rising or not unique")
	}
}

func TestMatches(t *testing.T) {
	r := rules.Rule{Component: "engine", Where: []rules.Condition{
		{Key: "fuel", Any: []string{"", "gasoline"}},
		{Key: "stroke", Any: []string{"four"}},
	}}
	for _, c := range []struct {
		name, kind, fuel, stroke string
		want                     bool
	}{
		{"all as asked", "engine", "gasoline", "four", true},
		{"not recorded, and that is allowed", "engine", "", "four", true},
		{"not recorded, and that is not allowed", "engine", "gasoline", "", false},
		{"another value", "engine", "diesel", "four", false},
		{"another kind", "generator", "gasoline", "four", false},
	} {
		t.Run(c.name, func(t *testing.T) {
			get := func(key string) string { return map[string]string{"fuel": c.fuel, "stroke": c.stroke}[key] }
			if got := r.Matches(c.kind, get); got != c.want {
				t.Errorf("matches is %v, want %v", got, c.want)
			}
		})
	}
}

// TestCostOf: a buying price counts for its own unit only, and a later file's
// stands over an earlier one's.
func TestCostOf(t *testing.T) {
	c := (&rules.Catalogue{}).Extend(parse(t, "[[part]]\ncode = \"OIL\"\nunit = \"l\"\ncost = 6.40\n[[part]]\ncode = \"SEAL\"\ncost = 1.25\n"))
	c = c.Extend(parse(t, "[[part]]\ncode = \"OIL\"\nunit = \"l\"\ncost = 7.15\n"))
	for _, tt := range []struct {
		name  string
		part  rules.Part
		want  int64
		known bool
	}{
		{"five litres at the newer price", rules.Part{Code: "OIL", Unit: "l", Quantity: 5}, 3575, true},
		{"a tenth of a litre, to the cent", rules.Part{Code: "OIL", Unit: "l", Quantity: 0.1}, 72, true},
		{"from the first file", rules.Part{Code: "SEAL", Unit: "piece", Quantity: 2}, 250, true},
		{"in another unit", rules.Part{Code: "OIL", Unit: "piece", Quantity: 1}, 0, false},
		{"without a price", rules.Part{Code: "FILTER", Unit: "piece", Quantity: 1}, 0, false},
	} {
		t.Run(tt.name, func(t *testing.T) {
			got, known := c.CostOf(&tt.part)
			if int64(got) != tt.want || known != tt.known {
				t.Errorf("%d cents, known %v; want %d, %v", got, known, tt.want, tt.known)
			}
		})
	}
}

// TestOwnersWords: a shop's title goes to the owner too, its caution takes the
// place of ours in rules that were spelled out before, and those about life come
// first, whatever the order in which a rule names them.
func TestOwnersWords(t *testing.T) {
	base, err := rules.Default()
	if err != nil {
		t.Fatal(err)
	}
	shop, err := rules.Parse("shop.toml", []byte(`
[[change]]
rule = "battery"
title = "Starting battery"

[[caution]]
code = "co"
text = "CO kills."
owner = "Open the windows."
life = true
source = { kind = "common-practice", text = "ours" }
`))
	if err != nil {
		t.Fatal(err)
	}
	c := base.Extend(shop)
	if r, _ := c.Rule("battery"); r.OwnerTitle != "" || r.Title != "Starting battery" {
		t.Errorf("the owner reads %q", r.OwnerTitle)
	}
	r, _ := c.Rule("lay-up-outboard")
	if !slices.Contains(r.Cautions, "CO kills.") || !slices.Contains(r.OwnerCautions, rules.OwnerCaution{Text: "Open the windows.", Life: true}) {
		t.Errorf("the shop's caution is not in %q, %v", r.Cautions, r.OwnerCautions)
	}
	for i := range c.Rules {
		r := &c.Rules[i]
		if !slices.IsSortedFunc(r.OwnerCautions, func(a, b rules.OwnerCaution) int {
			return map[bool]int{true: 0, false: 1}[a.Life] - map[bool]int{true: 0, false: 1}[b.Life]
		}) {
			t.Errorf("%s: %v", r.Code, r.OwnerCautions)
		}
	}
}

// technicians are words that no owner should read: they tell somebody with a
// wrench what to do.
var technicians = regexp.MustCompile(`(?i)cranking|disable the|write down|load test|negative cable|serial number|rated stands|chocked|\bU-joints?|gimbal|second person|to be (written|checked)|by the owner|looked at`)

// TestOwnersReadNoTechniciansWords reads all that the catalogue says to owners.
func TestOwnersReadNoTechniciansWords(t *testing.T) {
	c, err := rules.Default()
	if err != nil {
		t.Fatal(err)
	}
	for i := range c.Rules {
		r := &c.Rules[i]
		texts := []string{cmp.Or(r.OwnerTitle, r.Title), cmp.Or(r.OwnerConsequence, r.Consequence)}
		for _, k := range r.OwnerCautions {
			texts = append(texts, k.Text)
		}
		for _, s := range texts {
			if m := technicians.FindString(s); m != "" {
				t.Errorf("%s: the owner reads %q in %q", r.Code, m, s)
			}
		}
	}
}

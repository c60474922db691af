package rules_test

import (
	"flag"
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"bellbuoy/schedule/rules"
)

var update = flag.Bool("update", false, "write the golden files anew")

func catalogue(t testing.TB) *rules.Catalogue {
	t.Helper()
	c, err := rules.Default()
	if err != nil {
		t.Fatalf("the shipped catalogue does not read:\n%v", err)
	}
	return c
}

func parse(t testing.TB, text string) *rules.Catalogue {
	t.Helper()
	c, err := rules.Parse("shop.toml", []byte(text))
	if err != nil {
		t.Fatalf("%v\nin:\n%s", err, text)
	}
	return c
}

func TestShippedCatalogueHasNoFindings(t *testing.T) {
	c := catalogue(t)
	for _, f := range c.Check() {
		t.Error(f)
	}
	shop, err := rules.Parse("shop-example.toml", rules.ShopExample())
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range c.Extend(shop).Check() {
		t.Errorf("with the example shop file: %s", f)
	}
}

// Default lays its files over each other, so that a code used in two of them
// would quietly lose one rule.
func TestShippedFilesShareNoNames(t *testing.T) {
	files, err := filepath.Glob("catalogue/*.toml")
	if err != nil || len(files) == 0 {
		t.Fatalf("found no catalogue files: %v", err)
	}
	in := map[string]string{}
	count := 0
	for _, file := range files {
		data, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		c, err := rules.Parse(file, data)
		if err != nil {
			t.Fatal(err)
		}
		for _, r := range c.Rules {
			if other, twice := in[r.Code]; twice {
				t.Errorf("rule %q stands in %s and %s", r.Code, other, file)
			}
			in[r.Code] = file
			count++
		}
		for i, r := range c.Rules {
			if i > 0 && r.Line <= c.Rules[i-1].Line {
				t.Errorf("%s: rule %q is at line %d, after line %d", file, r.Code, r.Line, c.Rules[i-1].Line)
			}
			line := strings.Split(string(data), "\n")[r.Line-1]
			if line != "[[rule]]" {
				t.Errorf("%s:%d: rule %q is said to begin at %q", file, r.Line, r.Code, line)
			}
		}
	}
	if got := len(catalogue(t).Rules); got != count {
		t.Errorf("Default has %d rules, the files have %d", got, count)
	}
}

// engines lists every combination of what may be known of an engine, "" being
// not recorded.
func engines() []map[string]string {
	var out []map[string]string
	for _, p := range []string{"", "outboard", "sterndrive", "inboard", "jet", "electric"} {
		for _, s := range []string{"", "two", "four"} {
			for _, f := range []string{"", "gasoline", "diesel", "electric"} {
				for _, c := range []string{"", "raw-water", "closed", "air"} {
					for _, w := range []string{"", "fresh", "salt"} {
						out = append(out, map[string]string{"propulsion": p, "stroke": s, "fuel": f, "cooling": c, "water": w})
					}
				}
			}
		}
	}
	return out
}

func matching(c *rules.Catalogue, service string, e map[string]string) []string {
	var codes []string
	for i := range c.Rules {
		r := &c.Rules[i]
		if r.Service == service && r.Matches("engine", func(k string) string { return e[k] }) {
			codes = append(codes, r.Code)
		}
	}
	return codes
}

func TestEveryEngineHasOneLayUpAndOneFitOut(t *testing.T) {
	c := catalogue(t)
	for _, e := range engines() {
		for _, service := range []string{"lay-up", "fit-out"} {
			if codes := matching(c, service, e); len(codes) != 1 {
				t.Errorf("%v has the %s rules %v, want exactly one", e, service, codes)
			}
		}
	}
}

func TestNoEngineHasTwoRulesForOneService(t *testing.T) {
	c := catalogue(t)
	for _, e := range engines() {
		for _, service := range c.ServiceCodes() {
			codes := matching(c, service, e)
			for _, timing := range []string{"", "belt", "chain"} {
				e["timing"] = timing
				if more := matching(c, service, e); len(more) > len(codes) {
					codes = more
				}
			}
			delete(e, "timing")
			if len(codes) > 1 {
				t.Errorf("%v has several rules for %q: %v", e, service, codes)
			}
		}
	}
}

// A gasoline or diesel engine of which anything is missing must never be left
// without a yearly job: either its oil or a look at its data plate.
func TestNoEngineIsForgotten(t *testing.T) {
	c := catalogue(t)
	for _, e := range engines() {
		found := 0
		for _, service := range []string{"engine-oil", "two-stroke-oil-system", "spark-plugs", "annual-inspection", "engine-details"} {
			found += len(matching(c, service, e))
		}
		if found == 0 {
			t.Errorf("%v has no yearly rule at all", e)
		}
	}
}

func TestEveryKindOfComponentHasARule(t *testing.T) {
	c := catalogue(t)
	for _, kind := range factsList(t, "ComponentKinds") {
		if !slices.ContainsFunc(c.Rules, func(r rules.Rule) bool { return r.Component == kind }) {
			t.Errorf("no rule for components of kind %q", kind)
		}
	}
	for _, kind := range factsList(t, "BoatKinds") {
		if !slices.ContainsFunc(c.Usage, func(u rules.Usage) bool { return u.BoatKind == kind }) {
			t.Errorf("no usage for boats of kind %q", kind)
		}
	}
}

// The words of this package and those of schedule/facts.go are the same; the
// file is read as source because a leaf may not import its caller.
func TestWordsAgreeWithFacts(t *testing.T) {
	for attribute, list := range map[string]string{
		"propulsion": "Propulsions", "stroke": "Strokes", "fuel": "Fuels", "cooling": "Coolings",
		"water": "Waters", "berth": "Berths", "boat_kind": "BoatKinds",
	} {
		want := factsList(t, list)
		if got := rules.Words(attribute); !slices.Equal(got, want) {
			t.Errorf("values of %s: %v, schedule.%s has %v", attribute, got, list, want)
		}
	}
	want := slices.Sorted(slices.Values(factsList(t, "ComponentKinds")))
	if got := rules.Words("kind"); !slices.Equal(got, want) {
		t.Errorf("kinds: %v, schedule has %v", got, want)
	}
}

func factsList(t *testing.T, name string) []string {
	t.Helper()
	file, err := parser.ParseFile(token.NewFileSet(), "../facts.go", nil, 0)
	if err != nil {
		t.Fatal(err)
	}
	var out []string
	ast.Inspect(file, func(n ast.Node) bool {
		vs, ok := n.(*ast.ValueSpec)
		if !ok || vs.Names[0].Name != name || len(vs.Values) == 0 {
			return true
		}
		for _, e := range vs.Values[0].(*ast.CompositeLit).Elts {
			s, err := strconv.Unquote(e.(*ast.BasicLit).Value)
			if err != nil {
				t.Fatal(err)
			}
			out = append(out, s)
		}
		return false
	})
	if len(out) == 0 {
		t.Fatalf("schedule/facts.go has no list %s", name)
	}
	return out
}

func TestGoldenList(t *testing.T) {
	c := catalogue(t)
	var b strings.Builder
	for i := range c.Rules {
		writeRule(&b, &c.Rules[i])
	}
	golden := filepath.Join("testdata", "rules.golden")
	if *update {
		if err := os.WriteFile(golden, []byte(b.String()), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(golden)
	if err != nil {
		t.Fatal(err)
	}
	if b.String() != string(want) {
		t.Errorf("the list of rules changed; look at it with -update and git diff. It is now:\n%s", b.String())
	}
}

func writeRule(b *strings.Builder, r *rules.Rule) {
	fmt.Fprintf(b, "%s (%s) on %s", r.Code, r.Service, r.Component)
	for _, w := range r.Where {
		fmt.Fprintf(b, " %s=%s", w.Key, strings.Join(w.Any, "|"))
	}
	fmt.Fprintf(b, "\n\t%s: ", r.Title)
	switch {
	case r.Season != "":
		fmt.Fprintf(b, "season %s", r.Season)
	case r.Expiry != nil:
		fmt.Fprintf(b, "expiry %+v", *r.Expiry)
	case r.StoredDays > 0:
		fmt.Fprintf(b, "every %d days in storage", r.StoredDays)
	case r.Once:
		fmt.Fprintf(b, "once at %s h or %d months", r.First.Hours, r.First.Months)
	case !r.Every.IsZero():
		fmt.Fprintf(b, "every %s h or %d months", r.Every.Hours, r.Every.Months)
	}
	if len(r.After) > 0 {
		fmt.Fprintf(b, " after %s", strings.Join(r.After, ", "))
	}
	fmt.Fprintf(b, ", -%d +%d days, %d min, %s", r.EarlyDays, r.GraceDays, r.Labour, r.Price)
	if len(r.Covers) > 0 {
		fmt.Fprintf(b, ", covers %s", strings.Join(r.Covers, " "))
	}
	fmt.Fprintf(b, ", rides %s\n", strings.Join(r.RideAlong, " "))
}

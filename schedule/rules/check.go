package rules

import (
	"cmp"
	"fmt"
	"maps"
	"slices"
	"strings"
)

// How bad a finding is. An error makes some boats' plans wrong; a warning is
// worth a look.
const (
	SeverityError   = "error"
	SeverityWarning = "warning"
)

// Finding is something wrong with a catalogue that reads well.
type Finding struct {
	File     string // "" where it is about something missing altogether
	Line     int
	Rule     string // "" where it is not about one rule
	Severity string // SeverityError or SeverityWarning
	Message  string // what is wrong, and after a semicolon what to do
}

// String writes the finding as one line: file:line: severity: rule "x": message.
func (f Finding) String() string {
	var b strings.Builder
	if f.File != "" {
		fmt.Fprintf(&b, "%s:%d: ", f.File, f.Line)
	}
	b.WriteString(f.Severity + ": ")
	if f.Rule != "" {
		fmt.Fprintf(&b, "rule %q: ", f.Rule)
	}
	return b.String() + f.Message
}

// Check reports what the entries of a whole catalogue, the shop's file laid
// over it, say wrong about themselves and each other, in order of file and
// line. A shop's file by itself is not a whole catalogue: it names rules and
// services that stand elsewhere.
func (c *Catalogue) Check() []Finding {
	k := &checker{c: c, found: slices.Clone(c.Renamed)}
	for i := range c.Rules {
		r := &c.Rules[i]
		k.timing(r)
		k.target(r)
		k.wording(r)
		k.visit(r)
	}
	k.covers()
	k.cycles()
	k.overlaps()
	k.families()
	k.leftovers()
	k.partCosts()
	k.figures()
	slices.SortStableFunc(k.found, func(a, b Finding) int {
		return cmp.Or(cmp.Compare(a.File, b.File), cmp.Compare(a.Line, b.Line), cmp.Compare(a.Rule, b.Rule))
	})
	return k.found
}

type checker struct {
	c     *Catalogue
	found []Finding
}

func (k *checker) err(r *Rule, format string, args ...any) {
	k.found = append(k.found, Finding{r.File, r.Line, r.Code, SeverityError, fmt.Sprintf(format, args...)})
}

func (k *checker) warn(r *Rule, format string, args ...any) {
	k.found = append(k.found, Finding{r.File, r.Line, r.Code, SeverityWarning, fmt.Sprintf(format, args...)})
}

// at notes an error that is not about a rule of the catalogue.
func (k *checker) at(file string, line int, format string, args ...any) {
	k.found = append(k.found, Finding{file, line, "", SeverityError, fmt.Sprintf(format, args...)})
}

// ruleCodes lists the codes that may be meant by a misspelt one.
func (c *Catalogue) ruleCodes() []string {
	codes := make([]string, len(c.Rules))
	for i := range c.Rules {
		codes[i] = c.Rules[i].Code
	}
	return codes
}

// meant offers the nearest name, or nothing.
func meant(word string, names []string) string {
	if n := nearest(word, names); n != "" {
		return fmt.Sprintf("; did you mean %q?", n)
	}
	return ""
}

// families checks what engine families say of rules.
func (k *checker) families() {
	for _, f := range k.c.Families {
		seen := map[string]bool{}
		for _, o := range f.Overrides {
			bad := func(format string, args ...any) {
				k.at(f.File, o.Line, "family %q: "+format, append([]any{f.Name}, args...)...)
			}
			r, known := k.c.Rule(o.Rule)
			switch {
			case !known:
				bad("no rule %q%s", o.Rule, meant(o.Rule, k.c.ruleCodes()))
			case seen[o.Rule]:
				bad("says twice what applies to rule %q; keep one", o.Rule)
			case o.Skip && !(o.First.IsZero() && o.Every.IsZero()):
				bad("skips rule %q and gives it an interval; keep one", o.Rule)
			case !o.Skip && o.First.IsZero() && o.Every.IsZero():
				bad("changes nothing about rule %q; give first, every or skip", o.Rule)
			case !o.Skip && basis(r) != "an interval":
				bad("rule %q goes by %s and has no interval to change; skip it or leave it", o.Rule, basis(r))
			case r.Once && !o.Every.IsZero():
				bad("rule %q is done once; give first, not every", o.Rule)
			}
			if o.Source == (Source{}) {
				bad("no source for what it says of rule %q; add the manual's title and page", o.Rule)
			}
			seen[o.Rule] = true
		}
	}
}

// leftovers reports changes and drops that found no rule.
func (k *checker) leftovers() {
	for _, ch := range k.c.Changes {
		r := &ch.Rule
		k.at(r.File, r.Line, "changes rule %q, which does not exist%s", r.Code, meant(r.Code, k.c.ruleCodes()))
	}
	for _, d := range k.c.Drops {
		k.at(d.File, d.Line, "drops rule %q, which does not exist%s", d.Rule, meant(d.Rule, k.c.ruleCodes()))
	}
}

// partCosts reports buying prices that nothing asks for: a misspelt code leaves
// its part without one.
func (k *checker) partCosts() {
	used := make(map[string][]string) // code to units
	for i := range k.c.Rules {
		for _, p := range k.c.Rules[i].Parts {
			used[p.Code] = append(used[p.Code], p.Unit)
		}
	}
	codes := slices.Sorted(maps.Keys(used))
	for _, p := range k.c.PartCosts {
		units, known := used[p.Code]
		switch {
		case !known:
			k.at(p.File, p.Line, "part %q: no rule uses it%s", p.Code, meant(p.Code, codes))
		case !slices.ContainsFunc(units, func(u string) bool { return metric(u) == metric(p.Unit) }):
			k.at(p.File, p.Line, "part %q: priced by the %s, but the rules count it in %s", p.Code, p.Unit, quoted(units))
		}
	}
}

// metric is the unit that [Catalogue.Measured] makes another of: a shop prices by the
// gallon what the rules count in liters.
func metric(unit string) string {
	switch unit {
	case "gal":
		return "l"
	case "lb":
		return "kg"
	case "ft":
		return "m"
	}
	return unit
}

// figures checks the usage table and the month profile.
func (k *checker) figures() {
	other := false
	for _, u := range k.c.Usage {
		other = other || u.BoatKind == "other"
		if !slices.Contains(closed["boat_kind"], u.BoatKind) {
			k.at("", 0, "usage of boats of kind %q: no such kind%s", u.BoatKind, meant(u.BoatKind, closed["boat_kind"]))
		}
		if u.Source == (Source{}) {
			k.at("", 0, "usage of boats of kind %q has no source; add one, common-practice if that is the truth", u.BoatKind)
		}
	}
	if !other {
		k.at("", 0, "no usage for boats of kind \"other\"; boats of kinds not listed would have no forecast of hours")
	}
	if k.c.MonthProfile == [12]float64{} {
		k.at("", 0, "no month profile; add a [running] table with twelve months")
	} else if k.c.MonthSource == (Source{}) {
		k.at("", 0, "the month profile has no source; add one, common-practice if that is the truth")
	}
	if k.c.Pricing == (Source{}) {
		k.at("", 0, "nothing says where labor and prices come from; add a [pricing] table with kind and text")
	}
	for _, w := range k.c.Cautions {
		if w.Source == (Source{}) {
			k.at(w.File, w.Line, "caution %q has no source; add one, memory if that is the truth", w.Code)
		}
	}
}

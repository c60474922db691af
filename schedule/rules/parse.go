package rules

import (
	"fmt"
	"slices"
	"strings"
)

// Bounds beyond which a figure is a slip of the pen.
const (
	mostMonths = 600
	mostDays   = 3650
	mostLabour = 6000 // minutes
)

// Parse reads a catalogue file; file is its name in messages. Every fault of a
// well-formed file comes at once, joined, each as
//
//	file:line: rule "impeller": every.months: what is wrong; what to do
//
// Parse looks at each entry by itself. What the entries say about each other is
// for [Catalogue.Check], since a shop's file speaks of rules that it does not
// hold.
func Parse(file string, data []byte) (*Catalogue, error) {
	r, top, err := open(file, data)
	if err != nil {
		return nil, err
	}
	c := &Catalogue{}
	for _, t := range top.tables("rule") {
		c.Rules = append(c.Rules, readRule(t))
	}
	for _, t := range top.tables("service") {
		c.Services = append(c.Services, readService(t))
	}
	for _, t := range top.tables("family") {
		c.Families = append(c.Families, readFamily(t))
	}
	for _, t := range top.tables("usage") {
		c.Usage = append(c.Usage, readUsage(t))
	}
	for _, t := range top.tables("caution") {
		c.Cautions = append(c.Cautions, readCaution(t))
	}
	for _, t := range top.tables("part") {
		c.PartCosts = append(c.PartCosts, readPartCost(t))
	}
	for _, t := range top.tables("change") {
		c.Changes = append(c.Changes, readChange(t))
	}
	for _, t := range top.tables("drop") {
		c.Drops = append(c.Drops, readDrop(t))
	}
	if t := top.table("running"); t != nil {
		readRunning(t, c)
	}
	if t := top.table("pricing"); t != nil {
		c.Pricing = readSource(t)
	}
	top.close()
	reportDuplicates(r, c)
	if err := r.err(); err != nil {
		return nil, err
	}
	c.Renamed = r.renamed
	return c, nil
}

// name reads the key that the entry is known by and puts it in the messages.
func name(t *table, kind, key string) string {
	var s string
	t.text(key, &s)
	t.what, t.field = fmt.Sprintf("%s %q: ", kind, s), ""
	if s == "" {
		t.what = kind + ": "
	}
	if _, given := t.values[key]; !given {
		t.fault(key, "missing; every %s needs one", kind)
	} else if s != "" && !isCode(s) {
		t.fault(key, "want small letters, digits and hyphens, for example \"engine-oil\"")
	}
	return s
}

// need notes a text that must not be absent.
func need(t *table, key string) {
	if _, ok := t.values[key]; !ok {
		t.fault(key, "missing; add a line %s = \"...\"", key)
	}
}

func readService(t *table) Service {
	s := Service{File: t.r.file, Line: t.line()}
	s.Code = name(t, "service", "code")
	t.text("title", &s.Title)
	need(t, "title")
	s.In = textIn(t, "title")
	t.close()
	return s
}

func readFamily(t *table) Family {
	f := Family{File: t.r.file, Line: t.line()}
	f.Name = name(t, "family", "name")
	t.text("title", &f.Title)
	need(t, "title")
	f.In = textIn(t, "title")
	for _, o := range t.tables("rule") {
		f.Overrides = append(f.Overrides, readFamilyRule(o))
	}
	t.close()
	return f
}

func readFamilyRule(t *table) FamilyRule {
	o := FamilyRule{Line: t.line()}
	t.text("code", &o.Rule)
	need(t, "code")
	o.First, o.Every = interval(t, "first"), interval(t, "every")
	t.flag("skip", &o.Skip)
	if s := t.table("source"); s != nil {
		o.Source = readSource(s)
	}
	t.close()
	return o
}

func readUsage(t *table) Usage {
	u := Usage{Line: t.line()}
	u.BoatKind = name(t, "usage", "boat_kind")
	t.number("mean_hours", "hours a season", 5000, &u.MeanHours)
	t.number("weight", "seasons of evidence", 100, &u.Weight)
	t.number("outing_hours", "hours of one outing", 100, &u.OutingHours)
	t.number("yearly", "standard deviation over mean", 1, &u.Yearly)
	for _, f := range []struct {
		key   string
		value float64
	}{{"mean_hours", u.MeanHours}, {"weight", u.Weight}, {"outing_hours", u.OutingHours}} {
		if f.value == 0 {
			t.fault(f.key, "want a number above 0")
		}
	}
	if s := t.table("source"); s != nil {
		u.Source = readSource(s)
	}
	t.close()
	return u
}

func readCaution(t *table) Caution {
	k := Caution{File: t.r.file, Line: t.line()}
	k.Code = name(t, "caution", "code")
	t.text("text", &k.Text)
	need(t, "text")
	t.text("owner", &k.Owner)
	k.In = textIn(t, "owner")
	for key, text := range map[string]string{"text": k.Text, "owner": k.Owner} {
		unfilled(t, key, text)
	}
	for language, text := range k.In {
		unfilled(t, language, text)
	}
	t.flag("life", &k.Life)
	if k.Life && k.Owner == "" {
		t.fault("life", "is for the owner's words; add owner, or remove it")
	}
	if s := t.table("source"); s != nil {
		k.Source = readSource(s)
	}
	t.close()
	return k
}

// unfilled notes a brace in a caution that nothing fills.
func unfilled(t *table, key, text string) {
	if rest := measured.ReplaceAllString(text, ""); strings.ContainsAny(rest, "{}") {
		t.fault(key, "nothing fills the braces; want a temperature in whole degrees Celsius, as {temperature:21}, or none")
	}
}

func readPartCost(t *table) PartCost {
	p := PartCost{Unit: usualUnit, File: t.r.file, Line: t.line()}
	t.text("code", &p.Code)
	t.what, t.field = fmt.Sprintf("part %q: ", p.Code), ""
	need(t, "code")
	t.text("unit", &p.Unit)
	t.cents("cost", &p.Cost)
	need(t, "cost")
	t.close()
	return p
}

// name is what a buying price is known by: litres of a part are priced apart
// from its pieces.
func (p PartCost) name() string { return p.Code + " by the " + p.Unit }

func readDrop(t *table) Drop {
	d := Drop{File: t.r.file, Line: t.line()}
	d.Rule = name(t, "drop", "rule")
	t.close()
	return d
}

// readRunning reads the month profile: twelve numbers, January first.
func readRunning(t *table, c *Catalogue) {
	v, _ := t.take("months")
	list, _ := v.([]any)
	sum := 0.0
	for i, e := range list {
		f, ok := asFloat(e)
		if !ok || f < 0 || f > 1000 {
			t.fault("months", "want numbers from 0 to 1000, got %s", shown(e))
			return
		}
		if i < 12 {
			c.MonthProfile[i] = f
		}
		sum += f
	}
	if len(list) != 12 || sum == 0 {
		t.fault("months", "want twelve numbers, January first, not all 0, got %s", shown(v))
	}
	if s := t.table("source"); s != nil {
		c.MonthSource = readSource(s)
	}
	t.close()
}

func readSource(t *table) Source {
	var s Source
	t.text("kind", &s.Kind)
	t.text("text", &s.Text)
	need(t, "kind")
	need(t, "text")
	want := []string{Regulation, Published, CommonPractice, Memory}
	if s.Kind != "" && !slices.Contains(want, s.Kind) {
		t.fault("kind", "unknown kind of source %q; use one of %s", s.Kind, quoted(want))
	}
	if strings.Contains(s.Text, "://") {
		t.fault("text", "names an address; name the maker or authority, the title and the page")
	}
	t.close()
	return s
}

// reportDuplicates notes names that one file uses twice.
func reportDuplicates(r *reading, c *Catalogue) {
	seen := map[string]int{}
	twin := func(kind, name string, line int) {
		key := kind + " " + name
		if first, ok := seen[key]; ok && name != "" {
			r.faults = append(r.faults, fault{line, fmt.Sprintf("%s %q: stands at line %d already; rename or remove one", kind, name, first)})
			return
		}
		seen[key] = line
	}
	for _, e := range c.Rules {
		twin("rule", e.Code, e.Line)
	}
	for _, e := range c.Services {
		twin("service", e.Code, e.Line)
	}
	for _, e := range c.Families {
		twin("family", e.Name, e.Line)
	}
	for _, e := range c.Usage {
		twin("usage", e.BoatKind, e.Line)
	}
	for _, e := range c.Cautions {
		twin("caution", e.Code, e.Line)
	}
	for _, e := range c.PartCosts {
		twin("part", e.name(), e.Line)
	}
	for _, e := range c.Changes {
		twin("change", e.Rule.Code, e.Rule.Line)
	}
	for _, e := range c.Drops {
		twin("drop", e.Rule, e.Line)
	}
}

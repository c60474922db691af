package rules

import (
	"cmp"
	"fmt"
	"maps"
	"regexp"
	"slices"
	"strconv"
	"strings"
)

// CustomerWords are what customers read of a rule in one language.
type CustomerWords struct {
	Title, Consequence, IfItStays string
	// Cautions come from the catalogue's; see [Rule.OwnerCautions].
	Cautions []OwnerCaution
}

// Words returns what customers read of the rule in a language, English where that
// has no words.
func (r *Rule) Words(language string) CustomerWords {
	w := r.In[language]
	w.Title = cmp.Or(w.Title, r.OwnerTitle, r.Title)
	w.Consequence = cmp.Or(w.Consequence, r.OwnerConsequence, r.Consequence)
	w.IfItStays = cmp.Or(w.IfItStays, r.IfItStays)
	if w.Cautions == nil {
		w.Cautions = r.OwnerCautions
	}
	return w
}

// ServiceTitleIn is [Catalogue.ServiceTitle] in a language, English where that has
// no words.
func (c *Catalogue) ServiceTitleIn(language, code string) string {
	title := ""
	for i := range c.Services {
		if s := &c.Services[i]; s.Code == code {
			return cmp.Or(s.In[language], s.Title)
		}
	}
	for i := range c.Rules {
		r := &c.Rules[i]
		if r.Service == code && (title == "" || r.Code == code) {
			title = r.In[language].Title
		}
	}
	return cmp.Or(title, c.ServiceTitle(code))
}

// TitleIn is the family's title in a language, English where that has no words.
func (f *Family) TitleIn(language string) string { return cmp.Or(f.In[language], f.Title) }

// languages opens the tables of an entry that are named by a language: two small
// letters, as "fr".
func (t *table) languages() map[string]*table {
	all := make(map[string]*table)
	for _, key := range t.given() {
		if _, is := t.values[key].(map[string]any); is && len(key) == 2 && strings.Trim(key, "abcdefghijklmnopqrstuvwxyz") == "" {
			all[key] = t.table(key)
		}
	}
	return all
}

// wordsIn reads a rule's words by language.
func wordsIn(t *table) map[string]CustomerWords {
	var all map[string]CustomerWords
	for language, s := range t.languages() {
		var w CustomerWords
		s.text("title", &w.Title)
		s.text("consequence", &w.Consequence)
		s.text("if_it_stays", &w.IfItStays)
		s.close()
		if all == nil {
			all = make(map[string]CustomerWords)
		}
		all[language] = w
	}
	return all
}

// textIn reads one text of an entry by language.
func textIn(t *table, key string) map[string]string {
	var all map[string]string
	for language, s := range t.languages() {
		var text string
		s.text(key, &text)
		need(s, key)
		s.close()
		if all == nil {
			all = make(map[string]string)
		}
		all[language] = text
	}
	return all
}

// applyWords writes the given words of other languages over the rule's. Words that
// the shop changes in English alone are read in English by everybody: those of
// another language said something else.
func (ch *Change) applyWords(r *Rule) {
	given := func(field string) bool { return slices.Contains(ch.Fields, field) }
	for language := range r.In {
		r.edited(language, func(w *CustomerWords) {
			if given("title") || given("owner_title") {
				w.Title = ""
			}
			if given("owner_consequence") {
				w.Consequence = ""
			}
			if given("if_it_stays") {
				w.IfItStays = ""
			}
		})
	}
	for language, own := range ch.Rule.In {
		r.edited(language, func(w *CustomerWords) {
			w.Title = cmp.Or(own.Title, w.Title)
			w.Consequence = cmp.Or(own.Consequence, w.Consequence)
			w.IfItStays = cmp.Or(own.IfItStays, w.IfItStays)
		})
	}
}

// edited gives the rule words of its own in a language: those of the rule that it
// was copied from stay as they are.
func (r *Rule) edited(language string, edit func(*CustomerWords)) {
	r.In = maps.Clone(r.In)
	if r.In == nil {
		r.In = make(map[string]CustomerWords)
	}
	w := r.In[language]
	edit(&w)
	r.In[language] = w
}

// Lacking lists the words of customers that a language does not have, of all that
// there are.
func (c *Catalogue) Lacking(language string) (lacking []Finding, all int) {
	check := func(file string, line int, rule, kind, code, key, english, own string) {
		if english == "" {
			return
		}
		all++
		if own == "" {
			lacking = append(lacking, Finding{file, line, rule, SeverityWarning, fmt.Sprintf("no %s in %q; add it to [%s.%s] of %q, or customers read it in English", key, language, kind, language, code)})
		}
	}
	for i := range c.Rules {
		r := &c.Rules[i]
		w := r.In[language]
		check(r.File, r.Line, r.Code, "rule", r.Code, "title", r.Title, w.Title)
		check(r.File, r.Line, r.Code, "rule", r.Code, "consequence", cmp.Or(r.OwnerConsequence, r.Consequence), w.Consequence)
		check(r.File, r.Line, r.Code, "rule", r.Code, "if_it_stays", r.IfItStays, w.IfItStays)
	}
	for i := range c.Services {
		s := &c.Services[i]
		check(s.File, s.Line, "", "service", s.Code, "title", s.Title, s.In[language])
	}
	for i := range c.Families {
		f := &c.Families[i]
		check(f.File, f.Line, "", "family", f.Name, "title", f.Title, f.In[language])
	}
	for i := range c.Cautions {
		k := &c.Cautions[i]
		check(k.File, k.Line, "", "caution", k.Code, "owner", k.Owner, k.In[language])
	}
	return lacking, all
}

// measured finds a temperature in a caution, in whole degrees Celsius, that is
// written in the shop's scale: "{temperature:21}".
var measured = regexp.MustCompile(`\{temperature:(-?[0-9]{1,2})\}`)

// temperatureMark begins one.
const temperatureMark = "{temperature:"

// tellsTemperature reports whether a caution of the rule has one, in any language.
func (r *Rule) tellsTemperature() bool {
	tells := func(text string) bool { return strings.Contains(text, temperatureMark) }
	owner := func(k OwnerCaution) bool { return tells(k.Text) }
	if slices.ContainsFunc(r.Cautions, tells) || slices.ContainsFunc(r.OwnerCautions, owner) {
		return true
	}
	for _, w := range r.In {
		if slices.ContainsFunc(w.Cautions, owner) {
			return true
		}
	}
	return false
}

// Measured returns the catalogue as a shop measures: the temperatures of its cautions
// written by a function of language and whole degrees Celsius, parts and their prices
// counted in the unit that another returns, with how many of it one of the catalogue's
// is. Quantities are kept to a thousandth.
func (c *Catalogue) Measured(write func(language string, celsius int) string, count func(unit string) (shops string, each float64)) *Catalogue {
	in := func(language, text string) string {
		if !strings.Contains(text, temperatureMark) {
			return text
		}
		return measured.ReplaceAllStringFunc(text, func(s string) string {
			celsius, err := strconv.Atoi(measured.FindStringSubmatch(s)[1])
			if err != nil {
				return s
			}
			return write(language, celsius)
		})
	}
	owners := func(language string, all []OwnerCaution) []OwnerCaution {
		all = slices.Clone(all)
		for i := range all {
			all[i].Text = in(language, all[i].Text)
		}
		return all
	}
	out := *c
	out.Rules, out.Cautions, out.PartCosts = slices.Clone(c.Rules), slices.Clone(c.Cautions), slices.Clone(c.PartCosts)
	for i := range out.PartCosts {
		k := &out.PartCosts[i]
		k.Unit, k.Buys = count(k.Unit)
	}
	for i := range out.Cautions {
		k := &out.Cautions[i]
		k.Text, k.Owner, k.In = in(english, k.Text), in(english, k.Owner), maps.Clone(k.In)
		for language, text := range k.In {
			k.In[language] = in(language, text)
		}
	}
	for i := range out.Rules {
		r := &out.Rules[i]
		if r.tellsTemperature() { // few are; the others share their texts with c
			r.Cautions = slices.Clone(r.Cautions)
			for k, text := range r.Cautions {
				r.Cautions[k] = in(english, text)
			}
			r.OwnerCautions, r.In = owners(english, r.OwnerCautions), maps.Clone(r.In)
			for language, w := range r.In {
				w.Cautions = owners(language, w.Cautions)
				r.In[language] = w
			}
		}
		r.Parts = slices.Clone(r.Parts)
		for k := range r.Parts {
			p := &r.Parts[k]
			q := p.Quantity
			unit, each := count(p.Unit)
			p.Unit, p.Quantity = unit, 0
			p.Add(q * each)
		}
	}
	return &out
}

// english is the language of an entry's own fields.
const english = "en"

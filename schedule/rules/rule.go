package rules

import (
	"slices"
	"strings"
)

// readRule reads one [[rule]].
func readRule(t *table) Rule {
	r := Rule{File: t.r.file, Line: t.line()}
	r.Code = name(t, "rule", "code")
	r.Service = r.Code
	t.text("service", &r.Service)
	t.text("component", &r.Component)
	need(t, "component")
	need(t, "title")
	r.Where = where(t)
	t.flag("once", &r.Once)
	t.texts("ended_by", false, &r.EndedBy)
	t.text("season", &r.Season)
	if r.Season != "" && r.Season != LayUp && r.Season != FitOut {
		t.fault("season", "unknown season %q; use %q or %q", r.Season, LayUp, FitOut)
	}
	t.text("if_missed", &r.IfMissed)
	r.Expiry = expiry(t)
	t.texts("after", false, &r.After)
	t.whole("stored_days", "days", mostDays, &r.StoredDays)
	t.flag("inspect", &r.Inspect)
	t.flag("legal", &r.Legal)
	t.flag("safety", &r.Safety)
	t.text("consequence", &r.Consequence)
	t.texts("cautions", false, &r.Cautions)
	readChangeable(t, &r)
	if r.Once && r.EndedBy == nil {
		r.EndedBy = r.Covers
	}
	if r.RideAlong == nil {
		r.RideAlong = ridesWith(r.Season)
	}
	t.close()
	return r
}

// ridesWith is the kinds of visit a rule may ride with unless it says so: a
// season's own work belongs to that season's visit.
func ridesWith(season string) []string {
	if season == LayUp || season == FitOut {
		return []string{season}
	}
	return []string{LayUp, FitOut, Extra}
}

// readChange reads one [[change]]: the fields of a rule that a shop may set
// without writing the rule again.
func readChange(t *table) Change {
	ch := Change{Rule: Rule{File: t.r.file, Line: t.line()}}
	ch.Rule.Code = name(t, "change", "rule")
	readChangeable(t, &ch.Rule)
	for _, f := range t.given() {
		if f != "rule" {
			ch.Fields = append(ch.Fields, f)
		}
	}
	if len(ch.Fields) == 0 {
		t.fault("rule", "nothing is changed; give a field, for example price = 129.00")
	}
	t.close()
	return ch
}

// readChangeable reads the fields that [[rule]] and [[change]] have in common.
// What is read here, Change.apply writes.
func readChangeable(t *table, r *Rule) {
	t.renamed("labour", "labor")
	t.text("title", &r.Title)
	t.text("owner_title", &r.OwnerTitle)
	t.text("owner_consequence", &r.OwnerConsequence)
	r.First, r.Every = interval(t, "first"), interval(t, "every")
	t.texts("covers", false, &r.Covers)
	t.texts("ride_along", false, &r.RideAlong)
	for _, k := range r.RideAlong {
		if all := ridesWith(""); !slices.Contains(all, k) {
			t.fault("ride_along", "unknown kind of visit %q; use some of %s", k, quoted(all))
		}
	}
	t.whole("early_days", "days", mostDays, &r.EarlyDays)
	t.whole("grace_days", "days", mostDays, &r.GraceDays)
	t.whole("labor", "minutes", mostLabour, &r.Labour)
	for _, p := range t.tables("parts") {
		r.Parts = append(r.Parts, part(p))
	}
	t.cents("price", &r.Price)
	t.flag("by_customer", &r.ByCustomer)
	t.flag("with_lay_up", &r.WithLayUp)
	t.flag("cold", &r.Cold)
	t.text("if_it_stays", &r.IfItStays)
	r.In = wordsIn(t)
	for _, s := range t.tables("sources") {
		r.Sources = append(r.Sources, readSource(s))
	}
}

func interval(t *table, key string) Interval {
	var iv Interval
	if s := t.table(key); s != nil {
		s.whole("months", "months", mostMonths, &iv.Months)
		s.hours("hours", &iv.Hours)
		s.close()
		if iv.IsZero() {
			t.fault(key, "says nothing; give months, hours or both, or leave it out")
		}
	}
	return iv
}

func expiry(t *table) *Expiry {
	s := t.table("expiry")
	if s == nil {
		return nil
	}
	e := Expiry{From: FromComponent}
	s.text("from", &e.From)
	s.whole("years_after_made", "years", mostMonths/12, &e.YearsAfterMade)
	s.whole("months_after_made", "months", mostMonths, &e.MonthsAfterMade)
	s.flag("end_of_year", &e.EndOfYear)
	switch {
	case e.From != FromComponent && e.From != FromWarranty:
		s.fault("from", "want %q or %q, got %q", FromComponent, FromWarranty, e.From)
	case e.YearsAfterMade > 0 && e.MonthsAfterMade > 0:
		s.fault("months_after_made", "stands beside years_after_made; keep one")
	case e.From == FromWarranty && (e.YearsAfterMade > 0 || e.MonthsAfterMade > 0):
		s.fault("from", "a warranty has no day of manufacture; remove the ..._after_made line")
	}
	s.close()
	return &e
}

// where reads the conditions: each attribute with one value or a list of them.
func where(t *table) []Condition {
	s := t.table("where")
	if s == nil {
		return nil
	}
	var out []Condition
	for _, key := range s.given() {
		c := Condition{Key: key}
		if one, ok := s.values[key].(string); ok {
			s.asked = append(s.asked, key)
			c.Any = []string{one}
		} else {
			s.texts(key, true, &c.Any)
		}
		if len(c.Any) == 0 {
			s.fault(key, "allows no value; list at least one")
		}
		if strings.Trim(key, "abcdefghijklmnopqrstuvwxyz_") != "" {
			s.fault(key, "want an attribute's name in small letters and underscores")
		}
		slices.Sort(c.Any)
		out = append(out, c)
	}
	return out
}

// usualUnit is the unit of a part that says none.
const usualUnit = "piece"

func part(t *table) Part {
	p := Part{Quantity: 1, Unit: usualUnit}
	t.text("code", &p.Code)
	t.text("name", &p.Name)
	need(t, "code")
	need(t, "name")
	t.number("quantity", "a quantity", 10000, &p.Quantity)
	if p.Quantity == 0 {
		t.fault("quantity", "want more than 0")
	}
	t.text("unit", &p.Unit)
	t.close()
	return p
}

package rules

import (
	"fmt"
	"maps"
	"slices"
	"strings"
)

// basis names what sets a rule's day, for messages.
func basis(r *Rule) string {
	switch {
	case r.Season != "":
		return "the season"
	case r.Expiry != nil:
		return "a last day"
	case r.Every.IsZero() && r.First.IsZero() && len(r.After) > 0:
		return "an event"
	case r.StoredDays > 0:
		return "days in storage"
	}
	return "an interval"
}

// timing checks that exactly one thing sets the rule's day, and that it can.
func (k *checker) timing(r *Rule) {
	byInterval := !r.First.IsZero() || !r.Every.IsZero()
	ways := 0
	for _, has := range []bool{byInterval || len(r.After) > 0, r.Season != "", r.Expiry != nil, r.StoredDays > 0} {
		if has {
			ways++
		}
	}
	switch {
	case ways == 0:
		k.err(r, "has no interval, season, expiry, event or days in storage; it would never fall due")
	case ways > 1:
		k.err(r, "mixes an interval, a season, an expiry or days in storage; keep one and make a second rule of the rest")
	case r.Once && r.First.IsZero():
		k.err(r, "is done once but has no first interval; add first")
	case r.Once && !r.Every.IsZero():
		k.err(r, "is done once and again every so often; remove once or every")
	case byInterval && !r.Once && r.Every.IsZero():
		k.err(r, "has a first interval and nothing after it; add every, or once = true")
	case r.IfMissed != "" && (r.IfMissed != LayUp || r.Season != FitOut):
		k.err(r, "says if_missed, which is for season = \"fit-out\" and takes \"lay-up\" only; remove or mend it")
	case r.Once && len(r.After) > 0:
		k.err(r, "is done once and after events; remove once or after")
	case len(r.EndedBy) > 0 && !r.Once:
		k.err(r, "says ended_by, which is for rules done once; remove it, or add once = true")
	}
	for _, s := range r.After {
		if !slices.Contains(eventServices, s) {
			k.err(r, "comes after %q, which is no event%s; use some of %s", s, meant(s, eventServices), quoted(eventServices))
		}
	}
	if !r.Every.IsZero() && longer(r.First, r.Every) {
		k.warn(r, "waits longer for the first time than between later ones; check first and every")
	}
	if (r.First.Hours > 0 || r.Every.Hours > 0) && !metered(r.Component) {
		k.err(r, "counts hours, but a component of kind %q has no hour meter; give months", r.Component)
	}
}

// longer reports whether a exceeds b in a part that both have.
func longer(a, b Interval) bool {
	return a.Months > b.Months && b.Months > 0 || a.Hours > b.Hours && b.Hours > 0
}

// metered reports whether components of the kind have an hour meter.
func metered(kind string) bool { return slices.Contains(kinds[kind], "propulsion") }

// target checks that some component can meet the rule's conditions.
func (k *checker) target(r *Rule) {
	keys, known := kinds[r.Component]
	if !known {
		k.err(r, "can never apply: no component is of kind %q%s", r.Component, meant(r.Component, slices.Sorted(maps.Keys(kinds))))
		return
	}
	for _, c := range r.Where {
		k.condition(r, keys, c)
	}
	if _, ok := possible(r.Where); !ok {
		k.err(r, "can never apply: no engine is both %s; correct where", describe(r.Where))
	}
}

// condition checks one line of "where" against the words that attributes may
// have. A key outside the known ones is an attribute of the shop's own.
func (k *checker) condition(r *Rule, keys []string, c Condition) {
	engineOnly := slices.Contains(engineKeys, c.Key)
	if engineOnly && !slices.Contains(keys, c.Key) {
		k.err(r, "can never apply: a component of kind %q has no %s; remove the condition", r.Component, c.Key)
		return
	}
	if c.Key == "family" {
		k.familyCondition(r, c)
		return
	}
	values, isClosed := closed[c.Key]
	if !isClosed {
		if near := nearest(c.Key, slices.Concat(boatKeys(), keys)); near != "" {
			k.warn(r, "has a condition on %q, an attribute of the shop's own; if %q is meant, correct it", c.Key, near)
		}
		return
	}
	for _, v := range c.Any {
		if v != "" && !slices.Contains(values, v) {
			k.err(r, "where %s is %q can never apply%s; use some of %s", c.Key, v, meant(v, values), quoted(values))
		}
	}
}

func (k *checker) familyCondition(r *Rule, c Condition) {
	var names []string
	for _, f := range k.c.Families {
		names = append(names, f.Name)
	}
	for _, v := range c.Any {
		if v != "" && !slices.Contains(names, v) {
			k.err(r, "where family is %q can never apply: no such family%s; add a [[family]]", v, meant(v, names))
		}
	}
}

// hazards are the kinds of work that must not go out without their caution.
// Work is known by a word in the rule's code, service or title, a caution by a
// word in its text.
var hazards = []struct {
	what          string
	work, caution []string
}{
	{"fuel", []string{"fuel", "carburet"}, []string{"vapor", "vapour"}},
	{"lifting or blocking", []string{"trailer", "lift", "haul"}, []string{"stands", "block", "lift"}},
	{"electricity", []string{"battery", "electric"}, []string{"spark", "isolate", "disconnect"}},
	{"antifreeze", []string{"coolant", "antifreeze", "lay-up", "winter"}, []string{"antifreeze"}},
	{"a water pump", []string{"impeller", "seawater-pump", "water pump"}, []string{"without cooling water", "never run"}},
}

// wording checks what people read: title, consequence, sources, cautions.
func (k *checker) wording(r *Rule) {
	if len(r.Sources) == 0 {
		k.err(r, "has no source; add one, common-practice if that is the truth")
	}
	if r.Safety && r.ByCustomer {
		k.warn(r, "is a matter of safety and given to the owner; remove by_customer unless that is meant")
	}
	if r.Consequence == "" {
		k.warn(r, "does not say what goes wrong if it is missed; add consequence")
	}
	for _, c := range r.Cautions {
		if isCode(c) {
			k.err(r, "names the caution %q, which has no text%s", c, meant(c, k.c.cautionCodes()))
		}
	}
	if r.Labour == 0 {
		return // nobody lays hands on anything
	}
	work := strings.ToLower(r.Code + " " + r.Service + " " + r.Title)
	cautions := strings.ToLower(strings.Join(r.Cautions, "\n"))
	for _, h := range hazards {
		if containsAny(work, h.work) && !containsAny(cautions, h.caution) {
			k.warn(r, "touches %s and carries no caution about it; add one that says %s", h.what, quoted(h.caution))
		}
	}
}

func containsAny(text string, words []string) bool {
	return slices.ContainsFunc(words, func(w string) bool { return strings.Contains(text, w) })
}

func (c *Catalogue) cautionCodes() []string {
	var codes []string
	for _, k := range c.Cautions {
		codes = append(codes, k.Code)
	}
	return codes
}

// visit checks the window, the rides, and who does and pays for the work.
func (k *checker) visit(r *Rule) {
	switch {
	case r.Legal && r.GraceDays > 0:
		k.err(r, "is set by law and has a grace of %d days; set grace_days = 0", r.GraceDays)
	case r.EarlyDays == 0 && r.GraceDays == 0 && r.StoredDays == 0 && (len(r.After) == 0 || !r.Every.IsZero()):
		k.warn(r, "has a window of one day, so that nothing can be done together with it; set early_days or grace_days")
	case r.Every.Months > 0 && r.EarlyDays >= r.Every.Months*30:
		k.err(r, "opens %d days early although it comes every %d months; it would be open all the time", r.EarlyDays, r.Every.Months)
	}
	switch {
	case len(r.RideAlong) == 0:
		k.err(r, "may ride with no kind of visit; set ride_along")
	case r.Season != "" && !slices.Contains(r.RideAlong, r.Season):
		k.err(r, "belongs to the %s but may not ride with it; add it to ride_along", r.Season)
	}
	switch {
	case r.StoredDays > 0 && r.Price > 0:
		k.err(r, "is done in storage, without a visit, and has a price of %s; it would never be billed", r.Price)
	case r.ByCustomer && r.Price > 0:
		k.err(r, "is done by the customer and has a price of %s; it would never be billed", r.Price)
	case !r.ByCustomer && r.Labour == 0:
		k.warn(r, "takes the shop no time; set labour, or by_customer = true")
	}
}

// describe writes conditions as people say them.
func describe(where []Condition) string {
	var parts []string
	for _, c := range where {
		values := slices.Clone(c.Any)
		for i, v := range values {
			if v == "" {
				values[i] = "not recorded"
			}
		}
		parts = append(parts, fmt.Sprintf("%s %s", c.Key, strings.Join(values, " or ")))
	}
	return strings.Join(parts, ", ")
}

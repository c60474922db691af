package rules

import (
	"cmp"
	"slices"
)

// Extend returns the catalogue with the shop's laid over it: a rule, service or
// family with a known name is replaced, a new one added at the end, changed
// fields are changed, dropped rules go. Neither catalogue is changed.
func (c *Catalogue) Extend(shop *Catalogue) *Catalogue {
	out := &Catalogue{
		Rules:        overlay(c.Rules, shop.Rules, func(r Rule) string { return r.Code }),
		Services:     overlay(c.Services, shop.Services, func(s Service) string { return s.Code }),
		Families:     overlay(c.Families, shop.Families, func(f Family) string { return f.Name }),
		Usage:        overlay(c.Usage, shop.Usage, func(u Usage) string { return u.BoatKind }),
		Cautions:     overlay(c.Cautions, shop.Cautions, func(k Caution) string { return k.Code }),
		PartCosts:    overlay(c.PartCosts, shop.PartCosts, PartCost.name),
		MonthProfile: c.MonthProfile,
		MonthSource:  c.MonthSource,
		Pricing:      c.Pricing,
		Changes:      slices.Clone(c.Changes),
		Drops:        slices.Clone(c.Drops),
		Renamed:      slices.Concat(c.Renamed, shop.Renamed),
	}
	if shop.MonthProfile != [12]float64{} {
		out.MonthProfile, out.MonthSource = shop.MonthProfile, shop.MonthSource
	}
	if shop.Pricing != (Source{}) {
		out.Pricing = shop.Pricing
	}
	for _, ch := range shop.Changes {
		if r, ok := out.Rule(ch.Rule.Code); ok {
			ch.apply(r)
		} else {
			out.Changes = append(out.Changes, ch)
		}
	}
	for _, d := range shop.Drops {
		out.drop(d)
	}
	out.spellOutCautions(c.Cautions)
	return out
}

// drop takes a rule out. Its service stays known, since histories name it and
// other rules cover it.
func (c *Catalogue) drop(d Drop) {
	i := slices.IndexFunc(c.Rules, func(r Rule) bool { return r.Code == d.Rule })
	if i < 0 {
		c.Drops = append(c.Drops, d)
		return
	}
	r := c.Rules[i]
	title := c.ServiceTitle(r.Service)
	c.Rules = slices.Delete(c.Rules, i, i+1)
	if !c.HasService(r.Service) {
		c.Services = append(c.Services, Service{Code: r.Service, Title: title, File: d.File, Line: d.Line})
	}
}

// spellOutCautions puts the texts where the rules name cautions by code. A
// code without a text stays, for Check to report. Where a caution of before was
// spelled out already, the text that has its code now takes its place.
func (c *Catalogue) spellOutCautions(before []Caution) {
	at := make(map[string]int, len(c.Cautions))
	for i, k := range c.Cautions {
		at[k.Code] = i
	}
	for _, k := range before {
		at[k.Text] = at[k.Code]
	}
	for i := range c.Rules {
		r := &c.Rules[i]
		r.Cautions = slices.Clone(r.Cautions)
		var named []int
		for j, code := range r.Cautions {
			if k, ok := at[code]; ok {
				r.Cautions[j] = c.Cautions[k].Text
				named = append(named, k)
			}
		}
		if named != nil {
			c.ownerCautions(r, named)
		}
	}
}

// ownerCautions gives a rule those of the named cautions that have words for the
// owner, in the order of the catalogue, those about life first, in every language
// that any of them has.
func (c *Catalogue) ownerCautions(r *Rule, named []int) {
	slices.Sort(named)
	named = slices.Compact(named)
	in := func(language string) (out []OwnerCaution) {
		for _, life := range []bool{true, false} {
			for _, k := range named {
				if w := &c.Cautions[k]; w.Owner != "" && w.Life == life {
					out = append(out, OwnerCaution{Text: cmp.Or(w.In[language], w.Owner), Life: life})
				}
			}
		}
		return out
	}
	r.OwnerCautions = in(english)
	for _, k := range named {
		for language := range c.Cautions[k].In {
			r.edited(language, func(w *CustomerWords) { w.Cautions = in(language) })
		}
	}
}

// overlay puts the entries of top over those of base that have the same name.
func overlay[T any](base, top []T, name func(T) string) []T {
	out := slices.Clone(base)
	for _, t := range top {
		same := func(b T) bool { return name(b) == name(t) }
		if i := slices.IndexFunc(out, same); i >= 0 {
			out[i] = t
		} else {
			out = append(out, t)
		}
	}
	return out
}

// apply writes the given fields over the rule's. Slices are replaced whole.
func (ch *Change) apply(r *Rule) {
	from := &ch.Rule
	ch.applyWords(r)
	for _, f := range ch.Fields {
		switch f {
		case "title":
			r.Title, r.OwnerTitle = from.Title, from.OwnerTitle // the shop's own words go to the owner too
		case "owner_title":
			r.OwnerTitle = from.OwnerTitle
		case "owner_consequence":
			r.OwnerConsequence = from.OwnerConsequence
		case "first":
			r.First = from.First
		case "every":
			r.Every = from.Every
		case "covers":
			r.Covers = from.Covers
		case "ride_along":
			r.RideAlong = from.RideAlong
		case "early_days":
			r.EarlyDays = from.EarlyDays
		case "grace_days":
			r.GraceDays = from.GraceDays
		case "labor":
			r.Labour = from.Labour
		case "parts":
			r.Parts = from.Parts
		case "price":
			r.Price = from.Price
		case "by_customer":
			r.ByCustomer = from.ByCustomer
		case "with_lay_up":
			r.WithLayUp = from.WithLayUp
		case "cold":
			r.Cold = from.Cold
		case "if_it_stays":
			r.IfItStays = from.IfItStays
		case "sources":
			r.Sources = from.Sources
		}
	}
}

package schedule

import (
	"cmp"
	"slices"
	"strings"

	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/rules"
	"bellbuoy/schedule/texts"
	"bellbuoy/schedule/words"
)

// View turns a boat's stored plan into words for the shop, in English. It uses the
// facts for names and the plan for days; it plans nothing again.
func (p *Planner) View(f *Facts, plan *BoatPlan) BoatView {
	return p.ViewIn(words.English, f, plan)
}

// ViewIn is [Planner.View] in the language of a customer, one of
// [texts.Languages]; English for one that there is not.
func (p *Planner) ViewIn(language string, f *Facts, plan *BoatPlan) BoatView {
	w := p.wording(language, f)
	v := viewOf(f, plan, w.line)
	for i := range v.Visits {
		x := &v.Visits[i]
		x.Title, x.Why, x.WeekWhy = VisitTitleIn(w.t, x.Visit.Kind), w.visit(&x.Visit), w.weekReason(&x.Visit)
		x.Stays, x.NoGasoline, x.QuotedFirst = w.stays(&x.Visit, plan), f.noGasoline(), slices.ContainsFunc(x.Lines, w.quotedFirst)
	}
	return v
}

// Outline is a view without its words: what is in which visit, what another job
// includes and what is guarded. Nobody reads it; whether somebody has to read
// something is decided by it, at a fraction of the cost. Of the facts it needs the boat,
// its place and its follow-ups.
func (p *Planner) Outline(f *Facts, plan *BoatPlan) BoatView {
	return viewOf(f, plan, func(it *DueItem, _ *Visit) Line { return p.outline(f, it) })
}

// outline is an item's line without its words.
func (p *Planner) outline(f *Facts, it *DueItem) Line {
	l := Line{Item: *it, Included: it.CoveredBy != ""}
	if r, ok := p.cat.Rule(it.Rule); ok {
		l.Guarded = r.Guards()
	} else {
		l.Guarded = slices.ContainsFunc(f.FollowUps, func(fu FollowUp) bool { return it.IsFollowUp(fu.ID) && !fu.Asked })
	}
	return l
}

// viewOf puts a plan's lines under their visits.
func viewOf(f *Facts, plan *BoatPlan, line func(*DueItem, *Visit) Line) BoatView {
	v := BoatView{Boat: f.Boat, Place: f.Place}
	for i := range plan.Visits {
		v.Visits = append(v.Visits, VisitView{Visit: plan.Visits[i]})
	}
	for i := range plan.Items {
		it := &plan.Items[i]
		if it.Basis == BasisStored {
			continue // on the shop's own round of the yard; the owner is told nothing
		}
		k := slices.IndexFunc(v.Visits, func(v VisitView) bool { return v.Visit.ID == it.VisitID && it.VisitID != "" })
		if k < 0 {
			v.Loose = append(v.Loose, line(it, nil))
		} else {
			v.Visits[k].Lines = append(v.Visits[k].Lines, line(it, &v.Visits[k].Visit))
		}
	}
	return v
}

// quotedFirst reports whether a job is work whose price nobody can say beforehand.
// A look costs nothing by itself where it has no price, and what it finds is quoted
// after it.
func (w wording) quotedFirst(l Line) bool {
	r, ok := w.p.cat.Rule(l.Item.Rule)
	return ok && !r.Inspect && r.Price == 0 && l.Item.Labour > 0 && !l.Included && l.Item.Basis != BasisUnknown
}

// stays says which oil and lube stay in over the winter at a lay-up: "Engine oil
// of 20 September 2026, 2 h, stays."
func (w wording) stays(v *Visit, plan *BoatPlan) []string {
	if v.Kind != LayUp {
		return nil
	}
	var out []string
	for i := range plan.Items {
		it := &plan.Items[i]
		r, ok := w.p.cat.Rule(it.Rule)
		if !ok || !r.WithLayUp || it.VisitID == v.ID || it.LastDay == 0 || it.LastDay > v.day() || v.day() > it.LastDay.AddMonths(freshMonths) {
			continue
		}
		ran, care := "", ""
		if h := w.ranSince(it); h > 0 {
			ran = w.t.Say("reasons.stays.ran", "hours", w.hours(h))
		}
		staff := w.staffWords(r)
		if staff.IfItStays != "" {
			care = w.t.Say("reasons.stays.care", "text", staff.IfItStays)
		}
		out = append(out, w.t.Say("reasons.stays.line", "title", w.title(it, staff.Title), "date", w.date(it.LastDay), "ran", ran, "care", care))
	}
	return out
}

// ranSince is what a component's meter was read to run since an item's work, 0
// if nobody read it.
func (w wording) ranSince(it *DueItem) Hours {
	var newest Reading
	for _, r := range w.f.Readings {
		if r.ComponentID == it.ComponentID && r.Day >= max(it.LastDay, newest.Day) && !r.NewMeter {
			newest = r
		}
	}
	if !it.HasLastHours || newest.Day == 0 {
		return 0
	}
	return max(0, newest.Hours-it.LastHours)
}

// noGasoline reports whether every engine aboard is known to burn something
// else. What is not known may burn gasoline.
func (f *Facts) noGasoline() bool {
	for i := range f.Components {
		c := &f.Components[i]
		runs := c.Kind == "engine" || c.Kind == "generator"
		if runs && c.Attr.Fuel != "diesel" && c.Attr.Propulsion != "electric" {
			return false
		}
	}
	return true
}

// VisitTitle names a kind of visit for the shop, in English.
func VisitTitle(kind string) string {
	return VisitTitleIn(english(), kind)
}

// english are the built-in phrases, for what the shop alone reads.
func english() *texts.Texts {
	var builtin *texts.Catalog
	return builtin.In(words.English)
}

// VisitTitleIn names a kind of visit in the language of the phrases.
func VisitTitleIn(t *texts.Texts, kind string) string {
	switch kind {
	case LayUp, FitOut, Winter:
		return t.Say("reasons.visit." + kind)
	}
	return t.Say("reasons.visit.extra")
}

// wording makes the sentences of one boat in one language.
type wording struct {
	p  *Planner
	f  *Facts
	t  *texts.Texts
	in words.Format
}

func (p *Planner) wording(language string, f *Facts) wording {
	t := p.set.Texts.In(language)
	return wording{p: p, f: f, t: t, in: p.set.Format.In(t.Language())}
}

// date writes a day in full.
func (w wording) date(d civil.Day) string { return w.in.Date(d) }

// inEnglish reports whether the reader's language is the staff's.
func (w wording) inEnglish() bool { return w.t.Language() == words.English }

// hours writes what a meter shows.
func (w wording) hours(h Hours) string { return w.t.Say("reasons.meter.hours", "hours", w.in.Hours(h)) }

// staffWords are what the shop reads of a rule. In another language there are only
// those for customers.
func (w wording) staffWords(r *rules.Rule) rules.CustomerWords {
	if w.inEnglish() {
		return rules.CustomerWords{Title: r.Title, Consequence: r.Consequence, IfItStays: r.IfItStays}
	}
	return r.Words(w.t.Language())
}

func (w wording) line(it *DueItem, visit *Visit) Line {
	l := w.p.outline(w.f, it)
	if id, ok := strings.CutPrefix(it.Rule, followUpPrefix); ok {
		w.followUp(&l, visit, id)
	} else if r, ok := w.p.cat.Rule(it.Rule); ok {
		own := r.Words(w.t.Language())
		staff := w.staffWords(r)
		l.Title, l.Consequence, l.Cautions = staff.Title, staff.Consequence, r.Cautions
		l.OwnerTitle, l.OwnerConsequence, l.OwnerCautions = own.Title, own.Consequence, own.Cautions
		l.Source = sources(r.Sources)
		l.Why = join(w.since(it), w.limit(it, r), w.changed(it), w.planned(it, visit))
		if it.Basis == BasisSeason && r.Season == LayUp && w.f.Place.Source != "" {
			l.Source += "; the day: " + w.f.Place.Source
		}
	} else {
		l.Title = it.Rule
		l.Why = w.t.Say("reasons.limit.no-rule")
	}
	l.OwnerTitle = w.title(it, cmp.Or(l.OwnerTitle, l.Title))
	l.OwnerConsequence = cmp.Or(l.OwnerConsequence, l.Consequence)
	l.Title = w.title(it, l.Title)
	return l
}

// ForOwner is the view in the words for the boat's owner, for emails, calendars
// and his pages: titles, what goes wrong, and of the cautions those that concern
// somebody who owns and rides the boat.
func (v BoatView) ForOwner() BoatView {
	words := func(lines []Line) []Line {
		lines = slices.Clone(lines)
		for i := range lines {
			l := &lines[i]
			l.Title, l.Consequence, l.Cautions = l.OwnerTitle, l.OwnerConsequence, nil
			for _, c := range l.OwnerCautions {
				l.Cautions = append(l.Cautions, c.Text)
			}
		}
		return lines
	}
	v.Loose, v.Visits = words(v.Loose), slices.Clone(v.Visits)
	for i := range v.Visits {
		v.Visits[i].Lines = words(v.Visits[i].Lines)
	}
	return v
}

// OwnerCautions are the cautions for the owner on some lines, each once: all of
// those about life, then others up to most in all.
func OwnerCautions(lines []Line, most int) []string {
	var life, other []string
	for i := range lines {
		for _, c := range lines[i].OwnerCautions {
			to := &other
			if c.Life {
				to = &life
			}
			if !slices.Contains(*to, c.Text) {
				*to = append(*to, c.Text)
			}
		}
	}
	return append(life, other[:min(len(other), max(0, most-len(life)))]...)
}

// title is a job's title, with the component that it is done on where the boat
// has several of its kind.
func (w wording) title(it *DueItem, title string) string {
	if c := w.component(it.ComponentID); c != nil && w.hasSisters(c) {
		return w.t.Say("reasons.title.part", "title", title, "part", PartName(w.t, c.Label))
	}
	return title
}

// PartName is a part's label in the language of the phrases, if it is one that the
// program itself gives: "Port engine". Others stay as somebody entered them.
func PartName(t *texts.Texts, label string) string {
	return cmp.Or(t.Say("part."+strings.ReplaceAll(strings.ToLower(label), " ", "_")), label)
}

func (w wording) followUp(l *Line, visit *Visit, id string) {
	for i := range w.f.FollowUps {
		if fu := &w.f.FollowUps[i]; fu.ID == id {
			l.Title = fu.Title
			if fu.Asked {
				l.OwnerTitle = fu.Title
				l.Source = "the customer's wish"
				l.Why = join(w.t.Say("reasons.event.asked", "date", w.date(fu.Raised)), w.planned(&l.Item, visit))
				return
			}
			l.Source = "the shop's own finding"
			found := w.t.Say("reasons.event.found", "date", w.date(fu.Raised), "finding", strings.TrimRight(fu.Finding, "."), "due", w.date(fu.Due))
			l.Why = join(found, w.planned(&l.Item, visit))
		}
	}
}

func (w wording) component(id string) *Component {
	for i := range w.f.Components {
		if w.f.Components[i].ID == id {
			return &w.f.Components[i]
		}
	}
	return nil
}

// hasSisters reports whether the boat has more components of the kind, so that
// a line must say which one it means.
func (w wording) hasSisters(c *Component) bool {
	n := 0
	for i := range w.f.Components {
		if w.f.Components[i].Kind == c.Kind {
			n++
		}
	}
	return n > 1 && c.Label != ""
}

// sources joins a rule's sources into one line.
func sources(ss []rules.Source) string {
	var out []string
	for _, s := range ss {
		switch s.Kind {
		case "common-practice":
			out = append(out, cmp.Or(s.Text, "common practice, no source"))
		default:
			out = append(out, s.Text)
		}
	}
	return strings.Join(out, "; ")
}

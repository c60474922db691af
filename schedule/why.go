package schedule

import (
	"strings"

	"bellbuoy/schedule/rules"
	"bellbuoy/schedule/words"
)

// since says when it was last done, or what the count starts from.
func (w wording) since(it *DueItem) string {
	switch {
	case it.Basis == BasisSeason && it.MissedLast:
		return w.t.Say("reasons.since.season")
	case it.LastDay != 0 && it.Basis != BasisSeason:
		meter, part, who := "", "", ""
		if it.HasLastHours {
			meter = w.t.Say("reasons.since.meter", "hours", w.hours(it.LastHours))
		}
		if it.LastVia != "" {
			part = w.t.Say("reasons.since.part", "service", w.serviceName(it.LastVia))
		}
		switch it.LastBy {
		case ByElsewhere:
			who = w.t.Say("reasons.since.elsewhere")
		case ByBeforeSale:
			who = w.t.Say("reasons.since.before-sale")
		}
		return w.t.Say("reasons.since.done", "date", w.date(it.LastDay), "meter", meter, "part", part, "who", who)
	case it.StartsFrom == "in service":
		if c := w.component(it.ComponentID); c != nil {
			return w.t.Say("reasons.since.in-service", "date", w.date(c.InService))
		}
	case it.StartsFrom == "sold":
		return w.t.Say("reasons.since.sold", "date", w.date(w.f.Boat.SoldOn))
	}
	return ""
}

// limit says what sets the day.
func (w wording) limit(it *DueItem, r *rules.Rule) string {
	switch it.Basis {
	case BasisDate:
		if it.HoursAt > 0 {
			return w.t.Say("reasons.limit.date-first", "interval", w.interval(it), "date", w.date(it.Due), "meter", w.meter(it))
		}
		return w.t.Say("reasons.limit.date", "interval", w.interval(it), "date", w.date(it.Due))
	case BasisHours:
		return w.t.Say("reasons.limit.hours", "interval", w.interval(it), "reached", w.byHours(it))
	case BasisAsk:
		if f := w.f.Place.HardFreeze; f != 0 && LayUpSeason(f) == it.Season {
			return w.t.Say("reasons.limit.ask-frozen", "date", w.date(f))
		}
		return w.t.Say("reasons.limit.ask")
	case BasisDropped:
		return w.t.Say("reasons.limit.dropped", "place", w.f.Place.Name, "date", w.date(it.Due), "half", w.date(w.f.Place.halfSummer(it.Season)))
	case BasisSeason:
		return w.season(it, r)
	case BasisEvent:
		return w.event(it)
	case BasisExpiry:
		return w.expiry(it, r)
	case BasisOnce:
		if it.ByHours != 0 && it.Due == it.ByHours {
			return w.t.Say("reasons.limit.once-hours", "interval", words.LowerFirst(w.interval(it)), "reached", w.byHours(it))
		}
		return w.t.Say("reasons.limit.once", "interval", words.LowerFirst(w.interval(it)), "date", w.date(it.Due))
	}
	return w.unknown(it, r)
}

// expiry words a printed or legal last day.
func (w wording) expiry(it *DueItem, r *rules.Rule) string {
	if r.Expiry != nil && r.Expiry.From == rules.FromWarranty {
		return w.t.Say("reasons.limit.warranty", "date", w.date(it.ByDate))
	}
	key := "reasons.limit.until"
	switch guessed := it.StartsFrom == "replaced"; {
	case guessed && r.Legal:
		key = "reasons.limit.guessed-legal"
	case guessed:
		key = "reasons.limit.guessed"
	case r.Legal:
		key = "reasons.limit.until-legal"
	}
	return w.t.Say(key, "date", w.date(it.Due))
}

// season words the last day of a lay-up or fit-out, and what set it.
func (w wording) season(it *DueItem, r *rules.Rule) string {
	pl, sold := &w.f.Place, w.f.Boat.SoldOn
	say := func(key string, pairs ...string) string {
		return w.t.Say(key, append(pairs, "place", pl.Name, "date", w.date(it.Due))...)
	}
	if fr := pl.StoodOut; r.IfMissed != "" && fr.Night != 0 && LayUpSeason(fr.Night) == it.Season-1 {
		return say("reasons.season.stood-out", "freeze", w.freeze(fr))
	}
	if r.IfMissed != "" {
		return say("reasons.season.missed")
	}
	if r.Season == LayUp && w.f.Boat.Berth == "shop-heated" {
		return say("reasons.season.heated")
	}
	if last := pl.LayUpDay(it.Season); r.Season == LayUp && it.Due > last {
		return say("reasons.season.sold-late", "sold", w.date(sold), "last", w.date(last))
	}
	if fr := pl.Freeze; r.Season == LayUp && fr.brought(it.Due) {
		return say("reasons.season.freeze", "freeze", w.freeze(fr))
	}
	if r.Season == LayUp {
		return say("reasons.season.lay-up")
	}
	if it.Due > pl.LaunchDay(it.Season) {
		return say("reasons.season.sold-winterized", "sold", w.date(sold))
	}
	return say("reasons.season.fit-out")
}

// freeze says when and how cold.
func (w wording) freeze(f Freeze) string { return f.words(w.t, w.in) }

// unknown words a day that stands on no history.
func (w wording) unknown(it *DueItem, r *rules.Rule) string {
	switch {
	case r.WithLayUp && it.Price == r.Price && it.Labour == r.Labour && it.LastDay == 0:
		return w.t.Say("reasons.unknown.replaced")
	case it.StartsFrom == startsBeforeSale:
		return w.t.Say("reasons.unknown.before-sale", "date", w.date(it.ByDate), "sold", w.date(w.f.Boat.SoldOn))
	case it.LastDay != 0 || it.StartsFrom != "":
		return w.t.Say("reasons.unknown.rate", "interval", w.interval(it), "date", w.date(it.Due))
	case r.Expiry != nil:
		return w.t.Say("reasons.unknown.no-day")
	}
	return w.t.Say("reasons.unknown.nothing")
}

// byHours words a day that hours decide, with the range of the estimate.
func (w wording) byHours(it *DueItem) string {
	key := "reasons.reached.likely"
	switch {
	case it.HoursLate == it.Due:
		return w.t.Say("reasons.reached.reached", "meter", w.meter(it), "date", w.date(it.Due))
	case it.ByDate != 0 && (it.HoursMedian > it.ByDate || it.HoursMedian == 0):
		key = "reasons.reached.may-before"
	case it.ByDate != 0:
		key = "reasons.reached.likely-before"
	}
	return w.t.Say(key, "meter", w.meter(it), "before", w.date(it.ByDate), "date", w.date(it.Due), "spread", w.spread(it))
}

// spread words how far the days lie apart on which hours may decide. A day
// beyond the forecast's reach has no name.
func (w wording) spread(it *DueItem) string {
	switch {
	case it.HoursMedian == 0:
		return w.t.Say("reasons.reached.seldom")
	case it.HoursLate == 0:
		return w.t.Say("reasons.reached.half-by", "date", w.date(it.HoursMedian))
	}
	return w.t.Say("reasons.reached.half", "early", w.date(it.Due), "late", w.date(it.HoursLate), "middle", w.date(it.HoursMedian))
}

// meter words the figure that is the limit: an estimate where the meter was
// not read at the last time, the new meter's where it was replaced since.
func (w wording) meter(it *DueItem) string {
	switch {
	case !it.HasLastHours && it.HoursAt == it.Hours:
		return w.t.Say("reasons.meter.since", "hours", w.hours(it.Hours)) // its meter was never read
	case !it.HasLastHours:
		return w.t.Say("reasons.meter.about", "hours", w.hours((it.HoursAt+5)/10*10))
	case it.HoursAt < it.LastHours+it.Hours-1:
		return w.t.Say("reasons.meter.present", "hours", w.hours(it.HoursAt))
	}
	return w.hours(it.HoursAt)
}

// changed says what was set for this boat or engine in place of the default.
func (w wording) changed(it *DueItem) string {
	interval, owner := "", ""
	source := strings.TrimRight(it.Overridden, ".")
	if what := w.setFor(it); what != "" && (it.Months > 0 || it.Hours > 0) {
		key := "reasons.changed.interval"
		if source != "" {
			key = "reasons.changed.interval-source"
		}
		interval = w.t.Say(key, "what", what, "source", source)
		source = ""
	}
	if it.ByCustomer {
		key := "reasons.changed.owner"
		if source != "" {
			key = "reasons.changed.owner-source"
		}
		owner = w.t.Say(key, "source", source)
	}
	return join(interval, owner)
}

// setFor names what an item's interval was set for: one component, the boat or
// the engine's family; "" where it is the catalogue's.
func (w wording) setFor(it *DueItem) string {
	c := w.component(it.ComponentID)
	boat := false
	for i := range w.f.Overrides {
		o := &w.f.Overrides[i]
		if o.Rule != it.Rule || o.Months == 0 && o.Hours == 0 {
			continue
		}
		if o.ComponentID == it.ComponentID && c != nil {
			return w.t.Say("reasons.what." + c.Kind)
		}
		boat = boat || o.ComponentID == ""
	}
	if boat {
		return w.t.Say("reasons.what.boat")
	}
	if c == nil || c.Attr.Family == "" {
		return ""
	}
	for i := range w.p.cat.Families {
		f := &w.p.cat.Families[i]
		if f.Name != c.Attr.Family {
			continue
		}
		for _, o := range f.Overrides {
			if o.Rule == it.Rule && !o.Every.IsZero() {
				return w.t.Say("reasons.what.family", "family", f.TitleIn(w.t.Language()))
			}
		}
	}
	return ""
}

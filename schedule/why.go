package schedule

import (
	"fmt"
	"strings"

	"bellbuoy/schedule/rules"
	"bellbuoy/schedule/words"
)

// since says when it was last done, or what the count starts from.
func (w wording) since(it *DueItem) string {
	switch {
	case it.Basis == BasisSeason && it.MissedLast:
		return "It is not on record for the season before."
	case it.LastDay != 0 && it.Basis != BasisSeason:
		s := "Last done " + w.date(it.LastDay)
		if it.HasLastHours {
			s += " at " + w.hours(it.LastHours)
		}
		if it.LastVia != "" {
			s += ", as part of " + w.serviceName(it.LastVia)
		}
		switch it.LastBy {
		case ByElsewhere:
			s += ", elsewhere, as the owner said"
		case ByBeforeSale:
			s += ", before the sale"
		}
		return s + "."
	case it.StartsFrom == "in service":
		if c := w.component(it.ComponentID); c != nil {
			return "In service since " + w.date(c.InService) + " and not on record since."
		}
	case it.StartsFrom == "sold":
		return "Reconditioned throughout before the sale on " + w.date(w.f.Boat.SoldOn) + ", and counted from then."
	}
	return ""
}

// limit says what sets the day.
func (w wording) limit(it *DueItem, r *rules.Rule) string {
	switch it.Basis {
	case BasisDate:
		s := w.interval(it) + ": " + w.date(it.Due)
		if it.HoursAt > 0 {
			s += ", as the date comes before " + w.meter(it)
		}
		return s + "."
	case BasisHours:
		return w.interval(it) + ": " + w.byHours(it) + "."
	case BasisAsk:
		frozen := ""
		if f := w.f.Place.HardFreeze; f != 0 && LayUpSeason(f) == it.Season {
			frozen = ", and the first hard freeze on " + w.date(f) + " is past"
		}
		return fmt.Sprintf("No winterization is on record since the summer%s: ask the owner whether it was done. If it was not, look for freeze damage in spring, before the engine is cranked.", frozen)
	case BasisDropped:
		return fmt.Sprintf("Boats at %s are launched by %s. It was not done by %s, halfway to the winterization, so it is dropped for this year.",
			w.f.Place.Name, w.date(it.Due), w.date(w.f.Place.halfSummer(it.Season)))
	case BasisSeason:
		return w.season(it, r)
	case BasisEvent:
		return w.event(it)
	case BasisExpiry:
		if r.Expiry != nil && r.Expiry.From == rules.FromWarranty {
			return fmt.Sprintf("The engine warranty from the sale ends on %s; the check comes before that day.", w.date(it.ByDate))
		}
		s := "Good until " + w.date(it.Due)
		if it.StartsFrom == "replaced" {
			s = "The date on the new one is not on file; taken to have been a year old then, it is good until about " + w.date(it.Due)
		}
		if r.Legal {
			s += "; after that day it no longer counts by law"
		}
		return s + "."
	case BasisOnce:
		if it.ByHours != 0 && it.Due == it.ByHours {
			return fmt.Sprintf("Once, %s: %s.", words.LowerFirst(w.interval(it)), w.byHours(it))
		}
		return fmt.Sprintf("Once, %s: %s.", words.LowerFirst(w.interval(it)), w.date(it.Due))
	}
	return w.unknown(it, r)
}

// season words the last day of a lay-up or fit-out, and what set it.
func (w wording) season(it *DueItem, r *rules.Rule) string {
	if fr := w.f.Place.StoodOut; r.IfMissed != "" && fr.Night != 0 && LayUpSeason(fr.Night) == it.Season-1 {
		return fmt.Sprintf("It was not winterized on record when a hard freeze was called, %s, so this comes first, before the engine is cranked. Boats at %s are launched by %s.",
			fr.Words(w.p.set.Format), w.f.Place.Name, w.date(it.Due))
	}
	if r.IfMissed != "" {
		return fmt.Sprintf("No winterization is on record for the winter before, so this comes first, before the engine is cranked. Boats at %s are launched by %s.", w.f.Place.Name, w.date(it.Due))
	}
	if r.Season == LayUp && w.f.Boat.Berth == "shop-heated" {
		return fmt.Sprintf("It winters in heated storage, where nothing freezes: it is winterized by %s.", w.date(it.Due))
	}
	if last := w.f.Place.LayUpDay(it.Season); r.Season == LayUp && it.Due > last {
		return fmt.Sprintf("It was sold on %s, after %s, by which boats at %s are winterized, and no winterization is on record since the summer: it is due at once.",
			w.date(w.f.Boat.SoldOn), w.date(last), w.f.Place.Name)
	}
	if fr := w.f.Place.Freeze; r.Season == LayUp && fr.brought(it.Due) {
		return fmt.Sprintf("A hard freeze is forecast for %s: %s. It is winterized by %s.", w.f.Place.Name, fr.Words(w.p.set.Format), w.date(it.Due))
	}
	if r.Season == LayUp {
		return fmt.Sprintf("Boats at %s are winterized by %s.", w.f.Place.Name, w.date(it.Due))
	}
	if it.Due > w.f.Place.LaunchDay(it.Season) {
		return fmt.Sprintf("It was sold on %s, and by the records it is still winterized: it is due at once.", w.date(w.f.Boat.SoldOn))
	}
	return fmt.Sprintf("Boats at %s are launched by %s.", w.f.Place.Name, w.date(it.Due))
}

// unknown words a day that stands on no history.
func (w wording) unknown(it *DueItem, r *rules.Rule) string {
	switch {
	case r.WithLayUp && it.Price == r.Price && it.Labour == r.Labour && it.LastDay == 0:
		return "There is no record of it, and an inspection does not show how old it is, so it is replaced before the winter."
	case it.StartsFrom == startsBeforeSale:
		return fmt.Sprintf("It fell due on %s, before we sold the boat on %s, and there is no record that it was done, so it is inspected on the next visit.", w.date(it.ByDate), w.date(w.f.Boat.SoldOn))
	case it.LastDay != 0 || it.StartsFrom != "":
		return fmt.Sprintf("%s; how fast they add up is not known, so it is inspected once a year: %s.", w.interval(it), w.date(it.Due))
	case r.Expiry != nil:
		return "There is no expiration date on file, so it is inspected on the next visit."
	}
	return "There is no record of it and nothing to count from, so it is inspected on the next visit."
}

// byHours words a day that hours decide, with the range of the estimate.
func (w wording) byHours(it *DueItem) string {
	if it.HoursLate == it.Due {
		return fmt.Sprintf("the meter reached %s by %s", w.meter(it), w.date(it.Due))
	}
	likely := "is likely to reach"
	before := ""
	if it.ByDate != 0 {
		before = " before " + w.date(it.ByDate)
		if it.HoursMedian > it.ByDate || it.HoursMedian == 0 {
			likely = "may reach"
		}
	}
	return fmt.Sprintf("the meter %s %s%s, so it is due by %s to be in time (an estimate: %s)", likely, w.meter(it), before, w.date(it.Due), w.spread(it))
}

// spread words how far the days lie apart on which hours may decide. A day
// beyond the forecast's reach has no name.
func (w wording) spread(it *DueItem) string {
	switch {
	case it.HoursMedian == 0:
		return "by then in some cases, in most only years later"
	case it.HoursLate == 0:
		return fmt.Sprintf("half of all cases by %s, some only years later", w.date(it.HoursMedian))
	}
	return fmt.Sprintf("half of all cases lie between %s and %s, the middle one on %s", w.date(it.Due), w.date(it.HoursLate), w.date(it.HoursMedian))
}

// meter words the figure that is the limit: an estimate where the meter was
// not read at the last time, the new meter's where it was replaced since.
func (w wording) meter(it *DueItem) string {
	switch {
	case !it.HasLastHours && it.HoursAt == it.Hours:
		return w.hours(it.Hours) + " since then" // its meter was never read
	case !it.HasLastHours:
		return fmt.Sprintf("about %d h", (it.HoursAt+5)/10)
	case it.HoursAt < it.LastHours+it.Hours-1:
		return w.hours(it.HoursAt) + " on the present meter"
	}
	return w.hours(it.HoursAt)
}

// changed says what was set for this boat or engine in place of the default.
func (w wording) changed(it *DueItem) string {
	var s []string
	source := strings.TrimRight(it.Overridden, ".")
	if whose := w.setFor(it); whose != "" && (it.Months > 0 || it.Hours > 0) {
		text := "The interval is set for " + whose
		if source != "" {
			text += ": " + source
			source = ""
		}
		s = append(s, text+".")
	}
	if it.ByCustomer {
		text := "The owner does this"
		if source != "" {
			text += " (" + source + ")"
		}
		s = append(s, text+".")
	}
	return strings.Join(s, " ")
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
			return "this " + c.Kind
		}
		boat = boat || o.ComponentID == ""
	}
	if boat {
		return "this boat"
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
				return "engines of the family " + f.Title
			}
		}
	}
	return ""
}

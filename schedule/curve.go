package schedule

import (
	"cmp"
	"slices"

	"bellbuoy/schedule/civil"
)

// MeterCurve is one engine's meter over time, for a chart and its table.
type MeterCurve struct {
	Component Component
	// Known are the figures that were read, in order: readings and records.
	Known []MeterDay
	// Ahead is the forecast from the last known figure on, a day a month.
	Ahead []MeterDay
	// Limit is the nearest limit in hours that the meter has not passed, 0 for
	// none.
	Limit Hours
}

// MeterDay is a meter on a day; half of all cases lie from Low to High. For a
// figure that was read the three are equal.
type MeterDay struct {
	Day                 civil.Day
	Low, Expected, High Hours
}

// MeterCurves returns the curves of a boat's engines up to a day, as of today.
// Components without any rule in hours have none.
func (p *Planner) MeterCurves(f *Facts, today, until civil.Day) []MeterCurve {
	b := &planning{p: p, f: f, today: today}
	b.arrange()
	b.findLast()
	b.readMeters()
	plan := p.Plan(f, today)
	var out []MeterCurve
	for i := range b.comps {
		c := &b.comps[i]
		if c.hrs == nil || !c.hrs.Known() {
			continue
		}
		last, hours := c.hrs.LastReading()
		curve := MeterCurve{Component: *c.Component, Known: b.knownHours(c), Limit: plan.nextLimit(c.ID, tenths(hours))}
		curve.Ahead = append(curve.Ahead, MeterDay{last, tenths(hours), tenths(hours), tenths(hours)})
		for n := 1; last.AddMonths(n) <= until; n++ {
			d := last.AddMonths(n)
			lo, hi := c.hrs.Range(d, 0.5)
			curve.Ahead = append(curve.Ahead, MeterDay{d, tenths(lo), tenths(c.hrs.Expected(d)), tenths(hi)})
		}
		out = append(out, curve)
	}
	return out
}

// nextLimit is the nearest limit in hours that the component's meter has not
// passed yet, 0 if there is none.
func (p *BoatPlan) nextLimit(componentID string, meter Hours) Hours {
	var next Hours
	for i := range p.Items {
		it := &p.Items[i]
		if it.ComponentID == componentID && it.HoursAt > meter && (next == 0 || it.HoursAt < next) {
			next = it.HoursAt
		}
	}
	return next
}

// knownHours are a component's figures as they were read, those of one day
// once.
func (b *planning) knownHours(c *component) []MeterDay {
	at := make(map[civil.Day]Hours)
	for _, r := range b.f.Readings {
		if r.ComponentID == c.ID && r.Day <= b.today {
			at[r.Day] = r.Hours
		}
	}
	for _, r := range b.recs {
		if r.ComponentID == c.ID && r.HasHours {
			at[r.Day] = r.Hours
		}
	}
	days := make([]MeterDay, 0, len(at))
	for d, h := range at {
		days = append(days, MeterDay{d, h, h, h})
	}
	slices.SortFunc(days, func(x, y MeterDay) int { return cmp.Compare(x.Day, y.Day) })
	return days
}

package schedule

import "bellbuoy/schedule/civil"

// Outlook is what is expected of one engine's meter.
type Outlook struct {
	Component Component
	LastDay   civil.Day // of the newest usable reading, none if there is none
	LastHours Hours
	Expected  Hours // meter on the morning of the day asked about
	Low, High Hours // half of all cases lie between them
	Most      Hours // the meter shows more in one case of a hundred
	PerSeason Hours // expected running in a season
	// AskFor is set when a limit in hours is so uncertain that a reading is
	// worth asking for.
	AskFor bool
	Faults []string // readings left out, and why
}

// askLead is the lead time, in days, that an estimate's range must stay under;
// when it is wider the customer is asked for a reading.
const askLead = 42

// HoursOutlook forecasts the meters of a boat's engines for a day. Components
// without any rule in hours have none.
func (p *Planner) HoursOutlook(f *Facts, today civil.Day) []Outlook {
	b := &planning{p: p, f: f, today: today}
	b.arrange()
	b.findLast()
	b.readMeters()
	limits := make(map[string]Hours)
	plan := p.Plan(f, today)
	for i := range plan.Items {
		if it := &plan.Items[i]; it.Basis == BasisHours {
			limits[it.ComponentID] = it.HoursAt
		}
	}
	var out []Outlook
	for i := range b.comps {
		c := &b.comps[i]
		if c.hrs == nil {
			continue
		}
		lo, hi := c.hrs.Range(today, 0.5)
		_, most := c.hrs.Range(today, 0.98)
		o := Outlook{
			Component: *c.Component,
			Expected:  tenths(c.hrs.Expected(today)), Low: tenths(lo), High: tenths(hi), Most: tenths(most),
			PerSeason: tenths(c.hrs.Rate()),
			Faults:    c.faults,
		}
		if c.hrs.Known() {
			day, hours := c.hrs.LastReading()
			o.LastDay, o.LastHours = day, tenths(hours)
		}
		if limit, ok := limits[c.ID]; ok {
			o.AskFor = c.hrs.NeedsReading(today, limit.Float(), askLead)
		}
		out = append(out, o)
	}
	return out
}

// tenths rounds hours to what a meter shows.
func tenths(h float64) Hours { return Hours(max(0, h)*10 + 0.5) }

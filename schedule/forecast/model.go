package forecast

import (
	"fmt"
	"math"
	"sort"

	"bellbuoy/schedule/civil"
)

// Prior is what is believed of an engine's use before its meter was read.
type Prior struct {
	MeanHours float64 // hours in a full season
	// Weight is how many seasons of readings the mean is worth. It also says
	// how much owners differ: see [Prior.Spread].
	Weight float64
	// OutingHours are the engine hours of a typical outing. Where outings are
	// uneven it is the mean weighted by length: the outing that an hour picked
	// at random belongs to. Three of 1 h and one of 5 h make 3.5 h, not 2 h.
	OutingHours float64
	// Yearly is how much an owner's own seasons differ, good summers and bad
	// ones, as the standard deviation over the mean; 0 is not at all. However
	// many readings there are, the season to come stays that uncertain.
	Yearly float64
}

// Check reports a prior that forecasts cannot be made from: mean, weight and
// outing must be positive numbers, and the yearly difference from 0 to 1.
func (p Prior) Check() error {
	for _, f := range []struct {
		name  string
		value float64
	}{{"mean hours", p.MeanHours}, {"weight", p.Weight}, {"outing hours", p.OutingHours}} {
		if !(f.value > 0) || math.IsInf(f.value, 1) {
			return fmt.Errorf("usage: %s %v: want a number above 0", f.name, f.value)
		}
	}
	if !(p.Yearly >= 0 && p.Yearly <= 1) {
		return fmt.Errorf("usage: yearly difference %v: want 0 to 1, for example 0.25", p.Yearly)
	}
	return nil
}

// Model is the forecast for one engine: its history and what that says of its
// use. All hours asked for and given are those of the meter now fitted, unless
// a method says otherwise. Make one with [New].
type Model struct {
	season *Season
	prior  Prior
	// The rate of outings per season is Gamma distributed with shape a and
	// rate b.
	a, b float64
	// The engine's own evidence: hours seen over so many seasons.
	seen, over float64
	past       []mark // in order of day
}

// mark is a believed reading. hours + offset are the engine's hours in total.
type mark struct {
	day    civil.Day
	hours  float64
	offset float64
	fresh  bool // the first of a replaced meter
}

func (k mark) total() float64 { return k.hours + k.offset }

// New makes the forecast for an engine from its readings, in any order, and
// hands back those that cannot be true.
//
// start is the day on which the engine went into service with 0 h, or no day
// if that is not known. It is left out if the first reading was taken before
// it, shows more hours than the days since then have, or is of a replaced
// meter. For an engine without a meter, New without readings and with start as
// the day of a service forecasts the hours run since that service.
//
// Readings of an earlier owner tell of that owner's habits: leave out those
// before the last sale to forecast for the new one.
//
// With neither start nor a reading, or with a prior that fails its Check, the
// model is not [Model.Known].
func New(p Prior, s *Season, readings []Reading, start civil.Day) (*Model, []Fault) {
	good, faults := sift(readings)
	m := &Model{season: s, prior: p}
	if p.Check() != nil {
		return m, faults
	}
	m.past = history(good, start)
	m.seen, m.over = evidence(s, m.past)
	m.learn(m.seen, m.over)
	return m, faults
}

// evidence adds up hours and running time meter by meter. What was run between
// the last reading of one meter and the first of the next is not known.
func evidence(s *Season, past []mark) (hours, seasons float64) {
	for first, i := 0, 1; i <= len(past); i++ {
		if i == len(past) || past[i].fresh {
			hours += past[i-1].hours - past[first].hours
			seasons += s.Exposure(past[first].day, past[i-1].day)
			first = i
		}
	}
	return hours, seasons
}

// learn sets the rate's distribution from hours seen over a running time.
func (m *Model) learn(hours, seasons float64) {
	p := m.prior
	m.a = (p.MeanHours*p.Weight + hours) / p.OutingHours
	m.b = p.Weight + seasons
	// The square of the spread of a Gamma is 1/shape. Seasons that differ add
	// theirs to it; shape and rate shrink alike, so the mean stays.
	shrink := 1 + m.a*p.Yearly*p.Yearly
	m.a, m.b = m.a/shrink, m.b/shrink
}

// history joins the readings to one line of hours that runs on across meters.
func history(good []Reading, start civil.Day) []mark {
	marks := make([]mark, 0, len(good)+1)
	if start != 0 && startFits(good, start) {
		marks = append(marks, mark{day: start})
	}
	for _, r := range good {
		k := mark{day: r.Day, hours: r.Hours, fresh: r.NewMeter}
		if n := len(marks); n > 0 {
			k.offset = marks[n-1].offset
			if r.NewMeter {
				k.offset = marks[n-1].total() - r.Hours
			}
		}
		marks = append(marks, k)
	}
	return marks
}

// startFits reports whether the first reading can follow 0 h on the day start.
func startFits(good []Reading, start civil.Day) bool {
	if len(good) == 0 {
		return true
	}
	first := good[0]
	return !first.NewMeter && start < first.Day && misfit(Reading{Day: start}, first) == ""
}

// Known reports whether there is anything to forecast from: a believable
// reading or the day the engine went into service. Of an unknown engine
// Expected and Range say 0, and no limit is ever reached.
func (m *Model) Known() bool { return len(m.past) > 0 }

// LastReading returns the newest believed reading, with its hours; the day the
// engine went into service stands in for one. It is no day if the model is not
// Known.
func (m *Model) LastReading() (civil.Day, float64) {
	if !m.Known() {
		return 0, 0
	}
	k := m.last()
	return k.day, k.hours
}

func (m *Model) last() mark { return m.past[len(m.past)-1] }

// Rate returns the hours expected in a full season.
func (m *Model) Rate() float64 {
	if m.b == 0 {
		return 0
	}
	return m.prior.OutingHours * m.a / m.b
}

// Expected returns the meter hours expected on the morning of a day. Between
// readings the hours are spread over the running time; before the first they
// are reckoned back at the expected rate, no further than to 0. Before a meter
// was replaced the figure is what the present meter would have shown, which may
// be below 0.
func (m *Model) Expected(on civil.Day) float64 {
	if !m.Known() {
		return 0
	}
	i := sort.Search(len(m.past), func(i int) bool { return m.past[i].day > on })
	offset := m.last().offset
	switch i {
	case 0:
		first := m.past[0]
		back := m.Rate() * m.season.Exposure(on, first.day)
		return max(first.total()-back, 0) - offset
	case len(m.past):
		k := m.last()
		return k.hours + m.Rate()*m.season.Exposure(k.day, on)
	}
	from, to := m.past[i-1], m.past[i]
	return from.total() + (to.total()-from.total())*m.share(from.day, on, to.day) - offset
}

// share returns how much of the running from one day to another lies before
// the day on. Hours run while the boat should have been ashore are spread
// evenly over the days.
func (m *Model) share(from, on, to civil.Day) float64 {
	if whole := m.season.Exposure(from, to); whole > 0 {
		return m.season.Exposure(from, on) / whole
	}
	return float64(on-from) / float64(to-from)
}

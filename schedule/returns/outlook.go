package returns

import (
	"math"
	"slices"

	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/measure"
)

// decay is what a season counts for against the same season a year later:
// whoever stayed away last autumn says more about the next one than whoever
// came four years ago. Common practice, no source; the replay of past seasons
// shows whether it holds.
const decay = 0.6

// Own is what a tenure's seasons of one half say, from first on and before a
// day; the running season does not count yet.
func (h *History) Own(half Half, first Season, before civil.Day) Trial {
	s := SeasonOf(before)
	if s.Half != half {
		s = Season{s.Year - 1, half}
		if half == Spring {
			s.Year++ // the spring of the same year is over
		}
	} else {
		s.Year--
	}
	var t Trial
	for weight := 1.0; !s.Before(first) && s.Last() >= h.From; s.Year-- {
		if h.Chanced(s, before) {
			t.Of += weight
			if h.CameIn(s) {
				t.Came += weight
			}
		}
		weight *= decay
	}
	return t
}

// Chances tell how likely each boat is to come when it is due.
type Chances struct {
	first  Season
	on     civil.Day
	groups map[group]Beta
	late   map[group]float64 // of those who came in a season, how many came after this day of it
}

type group struct {
	half Half
	name string
}

// NewChances learns from the histories what was known before a day; first is
// the first season that the records cover.
func NewChances(all []History, first Season, on civil.Day) *Chances {
	trials := make(map[group][]Trial)
	for i := range all {
		for _, half := range []Half{Spring, Autumn} {
			if t := all[i].Own(half, first, on); t.Of > 0 {
				g := group{half, all[i].Group}
				trials[g] = append(trials[g], t)
			}
		}
	}
	c := &Chances{first: first, on: on, groups: make(map[group]Beta), late: make(map[group]float64)}
	for g, ts := range trials {
		c.groups[g] = FitPrior(ts)
	}
	c.learnLate(all)
	return c
}

// learnLate counts, over the past seasons of the running one's half, how many
// boats first came on this day of the season or after it.
func (c *Chances) learnLate(all []History) {
	running := SeasonOf(c.on)
	counts := make(map[string]*Share)
	for i := range all {
		h := &all[i]
		for s := (Season{running.Year - 1, running.Half}); !s.Before(c.first) && s.Last() >= h.From; s.Year-- {
			day, came := h.firstIn(s)
			if !came {
				continue
			}
			n := counts[h.Group]
			if n == nil {
				n = &Share{}
				counts[h.Group] = n
			}
			n.Of++
			if day-s.First() >= c.on-running.First() {
				n.Came++
			}
		}
	}
	for name, n := range counts {
		c.late[group{running.Half, name}] = (float64(n.Came) + 0.5) / (float64(n.Of) + 1)
	}
}

// Group is what is believed of a group's boats without a history of their own.
func (c *Chances) Group(half Half, name string) Beta {
	if b, ok := c.groups[group{half, name}]; ok {
		return b
	}
	return FitPrior(nil)
}

// Of is the chance that a boat comes for a visit due on a day: its own share of
// seasons shrunk to its group's. In the running season a visit that is still
// open is less likely to come the later it is: by how many came so late before.
func (c *Chances) Of(h *History, due civil.Day) float64 {
	season, running := SeasonOf(due), SeasonOf(c.on)
	p := c.Group(season.Half, h.Group).With(h.Own(season.Half, c.first, c.on)).Mean()
	late, known := c.late[group{season.Half, h.Group}]
	if season != running || !known || c.on == running.First() {
		return p
	}
	return p * late / (1 - p + p*late)
}

// Due is a visit ahead, with what it is worth at list price and the chance that
// it comes: 1 for one that is booked.
type Due struct {
	Boat, Visit string
	Day         civil.Day
	List        measure.Cents
	Chance      float64
	Factor      float64 // what past years say one expected cent brings, see [Calibrate]; 0 is 1
}

// Expected is list price times chance times factor, in whole cents, so that a
// sum is the sum of its lines.
func (d *Due) Expected() measure.Cents { return measure.Cents(math.Round(d.worth() * d.Chance)) }

// worth is what the visit brings if it comes, in cents.
func (d *Due) worth() float64 {
	if d.Factor == 0 {
		return float64(d.List)
	}
	return float64(d.List) * d.Factor
}

// variance is that of coming or not, in cents squared.
func (d *Due) variance() float64 { return d.worth() * d.worth() * d.Chance * (1 - d.Chance) }

// Ahead is what a month may bring. The range is the one that the amount falls
// into with the stated chance, by how visits come or not and by how far past
// years missed.
type Ahead struct {
	Month    Month         `json:"month"`
	Visits   int           `json:"visits"`
	List     measure.Cents `json:"list"` // all of them at list price
	Expected measure.Cents `json:"expected"`
	Low      measure.Cents `json:"low"`
	High     measure.Cents `json:"high"`
}

// Outlook adds up visits by month, from the month of a day on and for so many
// months, and as a whole. miss is the standard error of past years' figures as
// a share of them; it goes into every range, as it moves all months together.
func Outlook(due []Due, from civil.Day, months int, miss, level float64) (all []Ahead, whole Ahead) {
	first := MonthOf(from)
	all = make([]Ahead, months)
	variances := make([]float64, months)
	total := 0.0
	for i := range all {
		all[i].Month = first + Month(i)
	}
	for i := range due {
		at := int(MonthOf(due[i].Day) - first)
		if at < 0 || at >= months {
			continue
		}
		for _, a := range []*Ahead{&all[at], &whole} {
			a.Visits++
			a.List += due[i].List
			a.Expected += due[i].Expected()
		}
		variances[at] += due[i].variance()
		total += due[i].variance()
	}
	z := normalQuantile(level)
	for i := range all {
		all[i].spread(z, variances[i], miss)
	}
	whole.spread(z, total, miss)
	return all, whole
}

func (a *Ahead) spread(z, variance, miss float64) {
	e := float64(a.Expected)
	half := z * math.Sqrt(variance+miss*miss*e*e)
	a.Low = measure.Cents(math.Round(max(0, e-half)))
	a.High = measure.Cents(math.Round(e + half))
}

// Replay is one past year: what was expected on its first day, and what came of
// the boats that were in care then.
type Replay struct {
	On       civil.Day     `json:"on"`
	Expected measure.Cents `json:"expected"` // list price times chance, as it would have been worked out on that day
	Came     measure.Cents `json:"returned"`
	// Factor is what the years before say one expected cent brings; 0 if there
	// are none. Forecast is Expected times Factor.
	Factor   float64       `json:"factor"`
	Forecast measure.Cents `json:"forecast"`
}

// Error is how far the forecast missed, as a share of what came: 0.1 is a tenth
// too much. False if there was no forecast or nothing came.
func (r *Replay) Error() (float64, bool) {
	if r.Factor == 0 || r.Came == 0 {
		return 0, false
	}
	return float64(r.Forecast-r.Came) / float64(r.Came), true
}

// Calibration is what past years say about the present figures.
type Calibration struct {
	Years  []Replay `json:"years"`
	Factor float64  `json:"factor"` // what one expected cent brought over all of them; 1 if there are none
	Miss   float64  `json:"miss"`   // standard error of the forecasts as a share of them; 0 if fewer than two
}

// Calibrate puts past years in order and gives each the factor of the years
// before it, the newest counting most, so that every forecast shown knows only
// its past. The figures at list price leave out what no plan holds (repairs,
// storage) and what is charged above or below the list; the factor is what
// makes up for it.
func Calibrate(years []Replay) Calibration {
	c := Calibration{Years: slices.Clone(years), Factor: 1}
	slices.SortFunc(c.Years, func(a, b Replay) int { return int(a.On - b.On) })
	var expected, came, squares float64
	n := 0
	for i := range c.Years {
		y := &c.Years[i]
		if expected > 0 {
			y.Factor = came / expected
			y.Forecast = measure.Cents(math.Round(float64(y.Expected) * y.Factor))
			if y.Forecast > 0 {
				miss := float64(y.Came-y.Forecast) / float64(y.Forecast)
				squares += miss * miss
				n++
			}
		}
		expected = decay*expected + float64(y.Expected)
		came = decay*came + float64(y.Came)
	}
	if expected > 0 {
		c.Factor = came / expected
	}
	if n > 1 {
		c.Miss = math.Sqrt(squares / float64(n))
	}
	return c
}

// Bin is a range of chances, and how many visits of that chance came.
type Bin struct {
	Low    float64 `json:"low"`
	High   float64 `json:"high"`     // Low included, High only in the last bin
	Chance float64 `json:"chance"`   // mean of those given
	Came   Share   `json:"returned"` // what came of them
}

// bins is how many ranges of chance are told apart.
const bins = 5

// Reliability compares chances given before a season with what came: of the
// visits that were said to come four times in five, four in five should have.
type Reliability []Bin

// NewReliability has nothing counted yet.
func NewReliability() Reliability {
	r := make(Reliability, bins)
	for i := range r {
		r[i].Low, r[i].High = float64(i)/bins, float64(i+1)/bins
	}
	return r
}

// Bin is the range that a chance falls into.
func (r Reliability) Bin(chance float64) *Bin { return &r[min(bins-1, int(chance*bins))] }

// Add counts a visit in.
func (r Reliability) Add(chance float64, came bool) {
	b := r.Bin(chance)
	b.Chance = (b.Chance*float64(b.Came.Of) + chance) / float64(b.Came.Of+1)
	b.Came.Of++
	if came {
		b.Came.Came++
	}
}

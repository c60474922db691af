package demo

import (
	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
)

// engine is an engine with its true hours and what its meter was read as.
type engine struct {
	schedule.Component
	hasMeter bool
	rate     float64 // hours in an average season
	upTo     civil.Day
	meter    float64 // hours on the present meter
	shown    schedule.Hours
	readOn   civil.Day
	newMeter bool // replaced since the last reading
}

func newEngine(h *hull, c schedule.Component, hasMeter bool) *engine {
	e := &engine{Component: c, hasMeter: hasMeter, upTo: h.met()}
	// Sisters run together, nearly.
	if len(h.engines) > 0 {
		sister := h.engines[0]
		e.rate = sister.rate * (0.97 + 0.06*h.rng.Float64())
		e.meter = sister.meter * (0.97 + 0.06*h.rng.Float64())
		return e
	}
	e.rate = gamma(h.rng, h.kind.hours, 3)
	seasons := float64(h.met()-max(h.newOn, c.InService)) / 365
	e.meter = e.rate * seasons * (0.7 + 0.6*h.rng.Float64())
	return e
}

// run lets the engines of the hull run up to a day.
func (h *hull) run(to civil.Day) {
	for _, e := range h.engines {
		for from := e.upTo; from < to; {
			y := from.Year()
			end := min(to, civil.Of(y+1, 1, 1))
			e.meter += e.rate * h.home.share365(from, end) * h.seasons[y-h.met().Year()]
			from = end
		}
		e.upTo = max(e.upTo, to)
	}
}

// share365 is the part of a season that lies between two days of one year:
// boats run evenly from the launch to the lay-up, in a warm place all year.
func (t *town) share365(from, to civil.Day) float64 {
	if !t.Freezes() {
		return float64(to-from) / 365
	}
	open, shut := t.Launch.In(from.Year()), t.LayUp.In(from.Year())
	days := min(to, shut) - max(from, open)
	return max(0, float64(days)/float64(shut-open))
}

// drawSeasons decides how much each of the hull's seasons is used, against an
// average one. Both engines of a hull see the same seasons.
func (h *hull) drawSeasons() {
	for range h.today.Year() - h.met().Year() + 1 {
		h.seasons = append(h.seasons, gamma(h.rng, 1, 8))
	}
}

// read reads the meters as people do: often to the whole hour, now and then
// not at all.
func (h *hull) read(day civil.Day, who string) {
	for _, e := range h.engines {
		if !e.hasMeter || e.readOn == day || chance(h.rng, 0.1) {
			continue
		}
		if e.meter > 200 && chance(h.rng, 0.006) { // the gauge died and was replaced
			e.meter, e.shown, e.newMeter = 0, 0, true
		}
		tenths := schedule.Hours(e.meter * 10)
		if chance(h.rng, 0.6) {
			tenths -= tenths % 10
		}
		e.shown, e.readOn = max(e.shown, tenths), day
		h.readings = append(h.readings, schedule.Reading{
			ComponentID: e.ID, Day: day, Hours: e.shown, ReadBy: who, NewMeter: e.newMeter,
		})
		e.newMeter = false
	}
}

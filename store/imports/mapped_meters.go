package imports

import (
	"cmp"
	"slices"

	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/store/imports/mapping"
)

// shown is what a row says that a meter showed.
type shown struct {
	at       place
	h        *hull
	engine   int // 0 or 1; -1 for the boat's only one
	day      civil.Day
	hours    schedule.Hours
	estimate bool // the hours are called one
	repeated bool // so they are on the last row that says the same
}

func (s *shown) reading() schedule.Reading {
	return schedule.Reading{ComponentID: s.h.engineID(s.engine), Day: s.day, Hours: s.hours}
}

func (s *shown) asEstimate() estimate { return estimate{s.at, s.h.engineID(s.engine)} }

// order puts what one meter showed together, by day.
func (s shown) order(o shown) int {
	return cmp.Or(cmp.Compare(s.h.boat.ID, o.h.boat.ID), s.engine-o.engine, cmp.Compare(s.day, o.day), cmp.Compare(s.hours, o.hours))
}

// meters notes what a row says that meters showed. Whether a boat has one engine, to
// which the hours of work belong, is asked when all rows were read.
func (c *converter) meters(at place, l *mapping.Line, h *hull) {
	if h.stored.ID != "" {
		return
	}
	for i, e := range l.Engines {
		if e.HasHours {
			c.shown = append(c.shown, shown{at, h, i, cmp.Or(e.On, l.Defaults.Engines[i].On), e.Hours, e.Estimate, e.Estimate})
		}
	}
	for _, w := range l.Work {
		if w.HasHours {
			c.shown = append(c.shown, shown{at, h, -1, w.Day, w.Hours, w.Estimate, w.Estimate})
		}
	}
}

// metersRise looks for meters of new boats that go backwards, by the rules of
// [intake.metersRise], which would find them only after everything is written.
func (c *converter) metersRise() {
	c.shown = slices.DeleteFunc(c.shown, func(s shown) bool {
		_, back := c.t.returned[s.at]
		return back || s.engine < 0 && s.h.engineCount() != 1
	})
	for i := range c.shown {
		c.shown[i].engine = max(0, c.shown[i].engine)
	}
	slices.SortStableFunc(c.shown, shown.order)
	returned := len(c.t.returned)
	for before := -1; before < c.t.found() && len(c.t.returned) == returned; {
		before = c.t.found()
		c.fallingMeters() // without the estimates that were contradicted before
	}
}

// fallingMeters blames a row for each two readings of which the later is lower.
func (c *converter) fallingMeters() {
	var all []shown // without repetitions, each with the place of its first row
	for _, s := range c.shown {
		switch n := len(all); {
		case s.estimate && c.t.contradicted[s.asEstimate()]:
		case n > 0 && all[n-1].order(s) == 0:
			all[n-1].repeated = s.repeated
		default:
			all = append(all, s)
		}
	}
	for i := 1; i < len(all); i++ {
		before, after := all[i-1], all[i]
		if before.h != after.h || before.engine != after.engine || after.hours >= before.hours {
			continue
		}
		wrong := after // rather the estimate
		if before.repeated && !after.repeated {
			wrong = before
		}
		if wrong.estimate {
			c.t.contradicted[wrong.asEstimate()] = true
		} else {
			c.t.giveBackFor(wrong.at, remark("hours", meterFalls(before.reading(), after.reading())))
		}
	}
}

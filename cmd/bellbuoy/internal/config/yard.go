package config

import (
	"fmt"
	"slices"
	"strings"

	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/level"
)

func (c *Config) checkYard(fault faulter) {
	y := &c.Yard
	if n := len(y.CrewHours); n != 0 && n != 7 {
		fault("yard.crew_hours", "want seven figures, Monday to Sunday")
	}
	if n := len(y.Lifts); n != 0 && n != 7 {
		fault("yard.lifts", "want seven figures, Monday to Sunday")
	}
	for _, h := range y.CrewHours {
		if h < 0 || h > 1000 {
			fault("yard.crew_hours", "%g: want hours of the whole crew on a day", h)
		}
	}
	for _, n := range y.Lifts {
		if n < 0 || n > 1000 {
			fault("yard.lifts", "%d: want how many boats the lift moves on a day", n)
		}
	}
	if len(y.Work) == 0 && len(y.CrewHours)+len(y.Lifts) > 0 {
		fault("yard", "crew hours or lifts without a [[yard.work]] block: no boat needs any; say how long the crew takes")
	}
	for i, w := range y.Work {
		at := fmt.Sprintf("yard.work %d", i+1)
		if w.Berth != "" && !slices.Contains(schedule.Berths, w.Berth) {
			fault(at, "berth %q: want one of %s, or nothing for any", w.Berth, strings.Join(schedule.Berths, ", "))
		}
		if w.Kind != "" && !slices.Contains(schedule.BoatKinds, w.Kind) {
			fault(at, "kind %q: want one of %s, or nothing for any", w.Kind, strings.Join(schedule.BoatKinds, ", "))
		}
		for name, minutes := range map[string]int{"haul": w.Haul, "wash": w.Wash, "block": w.Block, "wrap": w.Wrap, "launch": w.Launch} {
			if minutes < 0 || minutes > 24*60 {
				fault(at, "%s %d: want minutes of the yard crew", name, minutes)
			}
		}
		same := func(o schedule.YardWork) bool { return o.Berth == w.Berth && o.Kind == w.Kind }
		if slices.ContainsFunc(y.Work[:i], same) {
			fault(at, "a block for the same berth and kind stands above it")
		}
	}
}

// addYard gives the days of weeks on which the shop is open the hours of the yard
// crew and the lifts that the settings say.
func (c *Config) addYard(weeks []level.Capacity, notBefore civil.Day, closed []civil.Day) {
	for i := range weeks {
		w := &weeks[i]
		for d := range w.Days {
			day := w.Week.Monday() + civil.Day(d)
			if day < notBefore || slices.Contains(closed, day) {
				continue
			}
			if len(c.Yard.CrewHours) > 0 {
				w.Days[d][level.Yard] = int(c.Yard.CrewHours[d]*60 + 0.5)
			}
			if len(c.Yard.Lifts) > 0 {
				w.Days[d][level.Lifts] = c.Yard.Lifts[d]
			}
		}
	}
}

package app

import (
	"context"

	"bellbuoy/schedule/civil"
	"bellbuoy/store/report"
)

// TimedLine is a line of work with the catalogue's time for it.
type TimedLine struct {
	report.WorkLine
	Minutes int
}

// TimedWork returns the shop's work of some days with the catalogue's time for each
// line; no clock is kept on the shop floor. A job that another one of the same
// day includes takes none.
func (a *App) TimedWork(ctx context.Context, from, to civil.Day) ([]TimedLine, error) {
	lines, err := report.WorkLines(ctx, a.DB, from, to)
	if err != nil {
		return nil, err
	}
	minutes, covers := a.catalogTimes()
	out := make([]TimedLine, len(lines))
	covered := make(map[string]bool)
	for i := 0; i < len(lines); {
		end := i
		clear(covered)
		for ; end < len(lines) && lines[end].BoatID == lines[i].BoatID && lines[end].Day == lines[i].Day; end++ {
			for _, c := range covers[lines[end].Service] {
				covered[c] = true
			}
		}
		for ; i < end; i++ {
			out[i] = TimedLine{WorkLine: lines[i], Minutes: minutes[lines[i].Service]}
			if covered[lines[i].Service] {
				out[i].Minutes = 0
			}
		}
	}
	return out, nil
}

// catalogTimes are the minutes of each service and the services that it
// includes, by the first rule that asks for it.
func (a *App) catalogTimes() (minutes map[string]int, covers map[string][]string) {
	minutes, covers = make(map[string]int), make(map[string][]string)
	cat := a.Planner.Catalogue()
	for i := range cat.Rules {
		r := &cat.Rules[i]
		if _, known := minutes[r.Service]; !known {
			minutes[r.Service], covers[r.Service] = r.Labour, r.Covers
		}
	}
	return minutes, covers
}

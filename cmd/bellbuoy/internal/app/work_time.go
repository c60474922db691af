package app

import (
	"context"
	"maps"
	"slices"
	"sync"

	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/level"
	"bellbuoy/store/report"
)

// TimedLine is a line of work with the catalogue's time for it.
type TimedLine struct {
	report.WorkLine
	Minutes int
}

// TimedWork returns the shop's work of some days with the catalogue's time for each
// line; no clock is kept on the shop floor. A job that another one of the same
// day includes takes none. Of some boats only, where boats is not nil.
func (a *App) TimedWork(ctx context.Context, from, to civil.Day, boats []string) ([]TimedLine, error) {
	lines, err := report.WorkLines(ctx, a.DB, from, to, boats)
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

// tookKept is what recorded work took of some days, by boat and day, as it was read last.
type tookKept struct {
	mu       sync.Mutex
	from, to civil.Day
	mark     string // of the books before it was read, see [store.Reader.WorkSince]
	of       map[boatDay]level.Amounts
}

type boatDay struct {
	boat string
	day  civil.Day
}

// workTook is what the work that is recorded on some days took of the shop's hours and of
// the yard, by day. It is asked after each change, so only the work of boats where that has
// changed since is read.
func (a *App) workTook(ctx context.Context, from, to civil.Day) (map[civil.Day]level.Amounts, error) {
	k := &a.took
	k.mu.Lock()
	defer k.mu.Unlock()
	if k.from != from || k.to != to {
		k.mark = ""
	}
	changed, all, mark, err := a.DB.WorkSince(ctx, k.mark)
	if err != nil {
		return nil, err
	}
	var boats []string // nil for all
	if !all {
		boats = append([]string{}, changed...)
	}
	read, err := a.tookByBoat(ctx, from, to, boats)
	if err != nil {
		return nil, err
	}
	if boats != nil {
		maps.DeleteFunc(k.of, func(b boatDay, _ level.Amounts) bool { return slices.Contains(boats, b.boat) })
		maps.Copy(k.of, read)
		read = k.of
	}
	k.from, k.to, k.mark, k.of = from, to, mark, read
	took := make(map[civil.Day]level.Amounts)
	for b, n := range k.of {
		took[b.day] = took[b.day].Plus(n)
	}
	return took, nil
}

// tookByBoat reads what the work on some boats took, all for nil.
func (a *App) tookByBoat(ctx context.Context, from, to civil.Day, boats []string) (map[boatDay]level.Amounts, error) {
	lines, err := a.TimedWork(ctx, from, to, boats)
	if err != nil {
		return nil, err
	}
	took, services := make(map[boatDay]level.Amounts), make(map[boatDay][]string)
	for _, l := range lines {
		on := boatDay{l.BoatID, l.Day}
		n := took[on]
		n[level.Labor] += l.Minutes
		took[on], services[on] = n, append(services[on], l.Service)
	}
	yard := a.Config.Settings().Yard
	if !yard.Crew && !yard.Lifts {
		return took, nil
	}
	for on, done := range services {
		b, err := a.DB.Boat(ctx, on.boat)
		if err != nil {
			return nil, err
		}
		n := took[on]
		n[level.Yard], n[level.Lifts] = yard.Took(&b, done)
		took[on] = n
	}
	return took, nil
}

package forecast

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"bellbuoy/schedule/civil"
)

// Reading is an engine's hour meter on a day, taken in the morning of it.
type Reading struct {
	Day   civil.Day
	Hours float64 // what the meter showed
	// NewMeter marks the first reading of a replaced meter: the engine's hours
	// run on from the reading before it. What was run between the two is not
	// known and counts as nothing, so the old meter is best read on the day it
	// is replaced.
	NewMeter bool
}

// Fault is a reading that cannot be true beside the others. The model is as if
// it had never been made.
type Fault struct {
	Reading Reading
	Reason  string // one sentence for the desk, without a full stop
}

// sift sorts the readings into a history that can be true and the faults that
// stand in its way. The same reading given twice counts once and is no fault.
func sift(readings []Reading) (good []Reading, faults []Fault) {
	good = make([]Reading, 0, len(readings))
	for _, r := range readings {
		if reason := r.senseless(); reason != "" {
			faults = append(faults, Fault{r, reason})
			continue
		}
		good = append(good, r)
	}
	slices.SortFunc(good, byDay)
	good = slices.Compact(good)
	good = dropRepeated(good)
	if believable(good) {
		return good, faults
	}
	var kept []Reading
	for start := 0; start < len(good); {
		end := start + 1
		for end < len(good) && !good[end].NewMeter {
			end++
		}
		k, f := siftMeter(good[start:end])
		kept, faults = append(kept, k...), append(faults, f...)
		start = end
	}
	return kept, faults
}

// senseless says what is wrong with the reading taken alone.
func (r Reading) senseless() string {
	switch {
	case r.Day <= 0:
		return "the reading has no day"
	case math.IsNaN(r.Hours) || math.IsInf(r.Hours, 0) || r.Hours < 0:
		return fmt.Sprintf("%v is not a meter figure", r.Hours)
	}
	return ""
}

// byDay puts readings in the order in which they were taken. On the day of a
// replacement the old meter was read before the new one.
func byDay(a, b Reading) int {
	if c := cmp.Compare(a.Day, b.Day); c != 0 {
		return c
	}
	if a.NewMeter != b.NewMeter {
		if b.NewMeter {
			return -1
		}
		return 1
	}
	return cmp.Compare(a.Hours, b.Hours)
}

// dropRepeated takes out the plain readings of a replacement day that only
// repeat the new meter's figure, as a service record of that day does.
func dropRepeated(rs []Reading) []Reading {
	if !slices.ContainsFunc(rs, func(r Reading) bool { return r.NewMeter }) {
		return rs
	}
	news := make(map[Reading]bool)
	for _, r := range rs {
		if r.NewMeter {
			news[Reading{Day: r.Day, Hours: r.Hours}] = true
		}
	}
	return slices.DeleteFunc(rs, func(r Reading) bool { return news[r] })
}

// believable reports whether every reading can follow the one before it.
func believable(rs []Reading) bool {
	for i := 1; i < len(rs); i++ {
		if misfit(rs[i-1], rs[i]) != "" {
			return false
		}
	}
	return true
}

// misfit says why the later reading cannot follow the earlier one.
func misfit(earlier, later Reading) string {
	run, days := later.Hours-earlier.Hours, later.Day-earlier.Day
	switch {
	case later.NewMeter:
		return ""
	case days == 0:
		return fmt.Sprintf("the meter cannot show both %.1f h and %.1f h on %s", earlier.Hours, later.Hours, later.Day)
	case run < 0:
		return fmt.Sprintf("%.1f h is below the %.1f h read on %s, and no new meter is noted", later.Hours, earlier.Hours, earlier.Day)
	case run > 24*float64(days+1): // from the morning of one day to the evening of the other
		return fmt.Sprintf("%.1f h more than on %s is more than the days between them have", run, earlier.Day)
	}
	return ""
}

// siftMeter splits the readings of one meter into the longest run in which
// each can follow the one before, and the rest. One slip of the pen is then one
// fault, whether it was too high or too low. Of runs of equal length the one
// that keeps the earlier readings wins, so a lone later reading never overrules
// an earlier one. The first reading of a replaced meter is always kept: it says
// that there is a new meter at all.
func siftMeter(rs []Reading) (kept []Reading, faults []Fault) {
	next, length := make([]int, len(rs)), make([]int, len(rs))
	for i := len(rs) - 1; i >= 0; i-- {
		next[i], length[i] = -1, 1
		for j := i + 1; j < len(rs); j++ {
			if length[j]+1 > length[i] && misfit(rs[i], rs[j]) == "" {
				next[i], length[i] = j, length[j]+1
			}
		}
	}
	head := 0
	for i := range rs {
		if length[i] > length[head] && !rs[0].NewMeter {
			head = i
		}
	}
	on := head
	for i, r := range rs {
		if i == on {
			kept, on = append(kept, r), next[i]
			continue
		}
		faults = append(faults, Fault{Reading: r, Reason: conflict(r, kept, rs, on)})
	}
	return kept, faults
}

// conflict says which kept reading stands against r: the last one before it or
// the next one after it.
func conflict(r Reading, kept, rs []Reading, next int) string {
	if len(kept) > 0 {
		if why := misfit(kept[len(kept)-1], r); why != "" || next < 0 {
			return why
		}
	}
	if n := rs[next]; n.Hours < r.Hours {
		return fmt.Sprintf("%.1f h is above the %.1f h read later, on %s, and no new meter is noted", r.Hours, n.Hours, n.Day)
	}
	return misfit(r, rs[next])
}

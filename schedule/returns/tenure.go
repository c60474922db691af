package returns

import (
	"cmp"
	"slices"

	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/measure"
)

// Tenure is a customer having a boat that is in the shop's care.
type Tenure struct {
	Boat, Customer string
	Kind           string    // kind of boat
	Group          string    // boats whose seasons are alike, for chances
	From           civil.Day // first day, none if longer than anybody knows
	Sold           civil.Day // the day on which the shop sold the boat to the customer, none if it did not
	End            civil.Day // first day on which the customer no longer has the boat or the boat is gone, none for now
}

// Holds reports whether the boat is with the customer and in care on a day.
func (t *Tenure) Holds(d civil.Day) bool { return d >= t.From && (t.End == 0 || d < t.End) }

// Counts reports whether paid work of a day is a return of this tenure: in
// care, and after the day of the sale.
func (t *Tenure) Counts(d civil.Day) bool { return t.Holds(d) && (t.Sold == 0 || d > t.Sold) }

// until is the last day on which anything is known of the tenure.
func (t *Tenure) until(today civil.Day) civil.Day {
	if t.End != 0 && t.End <= today {
		return t.End - 1
	}
	return today
}

// Coming is a day on which the shop did paid work on a boat, in so many lines.
type Coming struct {
	Day   civil.Day
	Lines int
	Paid  measure.Cents
}

// History is a tenure with its comings, those that count, in order of day.
type History struct {
	Tenure
	Comings []Coming
}

// firstIn finds the first day on which the boat came in a season.
func (h *History) firstIn(s Season) (civil.Day, bool) {
	i, _ := slices.BinarySearchFunc(h.Comings, s.First(), func(c Coming, d civil.Day) int { return cmp.Compare(c.Day, d) })
	if i == len(h.Comings) || h.Comings[i].Day > s.Last() {
		return 0, false
	}
	return h.Comings[i].Day, true
}

// CameIn reports whether the boat came in a season.
func (h *History) CameIn(s Season) bool {
	_, came := h.firstIn(s)
	return came
}

// Paid is what all comings together were paid.
func (h *History) Paid() measure.Cents {
	var sum measure.Cents
	for _, c := range h.Comings {
		sum += c.Paid
	}
	return sum
}

// Chanced reports whether a tenure could come in a season: it began before the
// season, and the boat was still in care at the season's end, or today if the
// season is running. A boat that was sold on or scrapped leaves the count on
// that day.
func (h *History) Chanced(s Season, today civil.Day) bool {
	begin := max(h.From, h.Sold)
	last := min(s.Last(), today)
	return begin < s.First() && s.First() <= today && (h.End == 0 || h.End > last)
}

// FirstReturn is the time from the sale to the first return; false for a boat
// that the shop did not sell.
func (h *History) FirstReturn(today civil.Day) (Spell, bool) {
	if h.Sold == 0 || h.Sold > today {
		return Spell{}, false
	}
	if len(h.Comings) > 0 && h.Comings[0].Day <= today {
		return Spell{int(h.Comings[0].Day - h.Sold), true}, true
	}
	return Spell{int(max(h.until(today)-h.Sold, 0)), false}, true
}

// LapseMonths is how long a boat must stay away to count as lapsed. Planned
// boats come at least once a year; three months are grace. Common practice, no
// source.
const LapseMonths = 15

// Lapse is the time from the sale to the first day on which the boat had stayed
// away for [LapseMonths]; false for a boat that the shop did not sell. Coming
// back later does not undo it.
func (h *History) Lapse(today civil.Day) (Spell, bool) {
	if h.Sold == 0 || h.Sold > today {
		return Spell{}, false
	}
	last, until := h.Sold, h.until(today)
	for _, c := range h.Comings {
		if c.Day > last.AddMonths(LapseMonths) || c.Day > until {
			break
		}
		last = c.Day
	}
	if gone := last.AddMonths(LapseMonths); gone <= until {
		return Spell{int(gone - h.Sold), true}, true
	}
	return Spell{int(max(until-h.Sold, 0)), false}, true
}

package level

import (
	"slices"

	"bellbuoy/schedule/civil"
)

// DefaultAllowance is the percentage of clocked time that a shop may sell ahead
// if it does not say otherwise: 6 hours of an 8-hour day. The rest goes to
// walk-ins, parts that do not come, and jobs that turn out to be more. The
// trade's advice is to book 5 to 6 hours per technician and 8-hour day (Trade
// Only Today, "32 tips" for dealers); this is its upper end.
const DefaultAllowance = 75

// Resource is one kind of thing that a week has only so much of.
type Resource int

// The resources. A shop without a yard of its own has none of the others, and
// no visit needs them.
const (
	Labor     Resource = iota // minutes of the technicians
	Yard                      // minutes of the yard crew
	Lifts                     // boats hauled or launched, counted
	Resources                 // how many kinds there are
)

// Amounts is so much of each resource.
type Amounts [Resources]int

// Plus is the sum of both.
func (a Amounts) Plus(b Amounts) Amounts {
	for r := range a {
		a[r] += b[r]
	}
	return a
}

// Covers reports whether the first is enough for the second.
func (a Amounts) Covers(b Amounts) bool {
	for r, n := range b {
		if n > 0 && n > a[r] {
			return false
		}
	}
	return true
}

// Less is what is left of the first without the second.
func (a Amounts) Less(b Amounts) Amounts {
	for r := range a {
		a[r] -= b[r]
	}
	return a
}

// Capacity is what the shop can work in one week, day by day from Monday to
// Sunday. A week without labor is closed.
type Capacity struct {
	Week    civil.Week
	Clocked int        // minutes for which the technicians are paid, before the allowance
	Days    [7]Amounts // what may be sold
	Booked  [7]Amounts // fixed work on its day, taken first; may exceed Days
}

// Total is what the whole week has.
func (c *Capacity) Total() Amounts { return sum(&c.Days) }

// TotalBooked is the fixed work of the whole week.
func (c *Capacity) TotalBooked() Amounts { return sum(&c.Booked) }

func sum(days *[7]Amounts) (all Amounts) {
	for d := range days {
		for r, n := range days[d] {
			all[r] += n
		}
	}
	return all
}

// Through is what the week has from its first day through a day; nothing if that
// lies before the week.
func (c *Capacity) Through(day civil.Day) (all Amounts) {
	for d := range c.lastDay(day) + 1 {
		for r, n := range c.Days[d] {
			all[r] += max(n, 0)
		}
	}
	return all
}

func (c *Capacity) closed() bool { return c.through(6, Labor) <= 0 }

// through is how much of a resource the week has from its first day through
// another, Monday as 0.
func (c *Capacity) through(day int, r Resource) int {
	all := 0
	for d := range day + 1 {
		all += max(c.Days[d][r], 0)
	}
	return all
}

// lastDay is the last day of the week that is not after the deadline, Monday as
// 0; less than 0 if there is none.
func (c *Capacity) lastDay(deadline civil.Day) int { return min(int(deadline-c.Week.Monday()), 6) }

// Technician is one person's ordinary week.
type Technician struct {
	Name    string
	Minutes [7]int // clocked minutes by time.Weekday, Sunday first
}

// Absence is time off, both days included.
type Absence struct {
	Technician string
	From, To   civil.Day
}

// Shop is what decides how much can be worked.
type Shop struct {
	Technicians []Technician
	Open        [7]bool     // by time.Weekday: the days on which the shop works
	Holidays    []civil.Day // days on which it does not all the same
	Absences    []Absence
	Allowance   int       // percent of clocked time that is sold ahead; 0 is DefaultAllowance
	NotBefore   civil.Day // hours before this day are gone, 0 counts whole weeks
}

// Weeks works out the weeks from..to, both included, with nothing booked and the
// technicians' hours as the only resource. A week without working time has none
// of it, and an absence of nobody takes no hours.
func (s Shop) Weeks(from, to civil.Week) []Capacity {
	allowance := s.Allowance
	if allowance == 0 {
		allowance = DefaultAllowance
	}
	holidays := slices.Sorted(slices.Values(s.Holidays))
	ordinary := s.ordinary()
	away := s.missing(from.Monday(), to.Sunday())
	weeks := make([]Capacity, 0, max(0, int(to-from)+1))
	for w := from; w <= to; w++ {
		c := Capacity{Week: w}
		sold := 0
		for d := max(w.Monday(), s.NotBefore); d <= w.Sunday(); d++ {
			if _, holiday := slices.BinarySearch(holidays, d); s.Open[d.Weekday()] && !holiday {
				c.Clocked += ordinary[d.Weekday()] - away[d]
			}
			// Of the days together the share is exact, not of each by itself.
			c.Days[d-w.Monday()][Labor] = c.Clocked*allowance/100 - sold
			sold = c.Clocked * allowance / 100
		}
		weeks = append(weeks, c)
	}
	return weeks
}

// ordinary is the time that all technicians are there, by weekday. It is summed
// once and not for each day: a re-plan after one change asks for all weeks.
func (s Shop) ordinary() (sum [7]int) {
	for _, t := range s.Technicians {
		for d, m := range t.Minutes {
			sum[d] += max(m, 0)
		}
	}
	return sum
}

// missing is the time that the absent are not there, by day. Who is written
// down twice for a day is away once.
func (s Shop) missing(from, to civil.Day) map[civil.Day]int {
	sum := make(map[civil.Day]int)
	if len(s.Absences) == 0 {
		return sum
	}
	minutes := make(map[string][7]int, len(s.Technicians))
	for _, t := range s.Technicians {
		all := minutes[t.Name]
		for d, m := range t.Minutes {
			all[d] += max(m, 0)
		}
		minutes[t.Name] = all
	}
	type out struct {
		who string
		day civil.Day
	}
	seen := make(map[out]bool)
	for _, a := range s.Absences {
		for d := max(a.From, from); d <= min(a.To, to); d++ {
			if at := (out{a.Technician, d}); !seen[at] {
				seen[at] = true
				sum[d] += minutes[a.Technician][d.Weekday()]
			}
		}
	}
	return sum
}

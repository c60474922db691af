package notify

import (
	"cmp"
	"maps"
	"math"
	"slices"

	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
)

// Season sums a rehearsal up: how much each customer would hear, when, and
// what for.
type Season struct {
	Mails     int
	Customers int
	Months    []SeasonMonth   // with mails, rising
	Most      []CustomerMails // every customer with mails, those with most first
}

// SeasonMonth is what leaves in one month.
type SeasonMonth struct {
	First     civil.Day // the month's first day
	Mails     int
	Customers int
	MostToOne int // mails to the customer who gets most
	Steps     map[schedule.Step]int
}

// CustomerMails is what one customer gets over the whole time.
type CustomerMails struct {
	Customer schedule.Customer
	Mails    int
	InAMonth int // in the month that has most
	Days     []civil.Day
	Steps    []schedule.Step       // of each of the days' mails: its most urgent
	For      [][]schedule.Notified // what each was for: every subject with its own step
}

// Summarize sums a rehearsal up.
func Summarize(days []Rehearsal) Season {
	var s Season
	months := map[civil.Day]*SeasonMonth{}
	toOne := map[civil.Day]map[string]int{}
	customers := map[string]*CustomerMails{}
	for _, day := range days {
		y, m, _ := day.Day.Date()
		first := civil.Of(y, m, 1)
		for i := range day.Notices {
			n := &day.Notices[i]
			month, ok := months[first]
			if !ok {
				month = &SeasonMonth{First: first, Steps: map[schedule.Step]int{}}
				months[first], toOne[first] = month, map[string]int{}
			}
			c, ok := customers[n.Customer.ID]
			if !ok {
				c = &CustomerMails{Customer: n.Customer}
				customers[n.Customer.ID] = c
			}
			s.Mails++
			month.Mails++
			month.Steps[n.Step]++
			toOne[first][n.Customer.ID]++
			month.Customers = len(toOne[first])
			month.MostToOne = max(month.MostToOne, toOne[first][n.Customer.ID])
			c.add(day.Day, n, toOne[first][n.Customer.ID])
		}
	}
	s.Customers = len(customers)
	for _, first := range slices.Sorted(maps.Keys(months)) {
		s.Months = append(s.Months, *months[first])
	}
	for _, id := range slices.Sorted(maps.Keys(customers)) {
		s.Most = append(s.Most, *customers[id])
	}
	slices.SortStableFunc(s.Most, func(a, b CustomerMails) int { return cmp.Compare(b.Mails, a.Mails) })
	return s
}

func (c *CustomerMails) add(day civil.Day, n *Notice, inThisMonth int) {
	c.Mails++
	c.InAMonth = max(c.InAMonth, inThisMonth)
	c.Days = append(c.Days, day)
	c.Steps = append(c.Steps, n.Step)
	c.For = append(c.For, n.Notified)
}

// Spread says how many reminders customers get in a year: half of those who get
// any have at most Median, nine in ten at most Ninety, nobody more than Most.
type Spread struct {
	Customers int `json:"customers"`
	Median    int `json:"median"`
	Ninety    int `json:"nine_in_ten"`
	Most      int `json:"most"`
}

// SpreadOf sums up how many reminders each customer got; those with none are left
// out.
func SpreadOf(reminders []int) Spread {
	some := slices.DeleteFunc(slices.Clone(reminders), func(n int) bool { return n == 0 })
	if len(some) == 0 {
		return Spread{}
	}
	slices.Sort(some)
	at := func(share float64) int { return some[max(0, int(math.Ceil(share*float64(len(some))))-1)] }
	return Spread{Customers: len(some), Median: at(0.5), Ninety: at(0.9), Most: at(1)}
}

// Spread sums up what the customers of a rehearsal would get.
func (s *Season) Spread() Spread {
	all := make([]int, len(s.Most))
	for i := range s.Most {
		for _, step := range s.Most[i].Steps {
			if isCapped(step) {
				all[i]++
			}
		}
	}
	return SpreadOf(all)
}

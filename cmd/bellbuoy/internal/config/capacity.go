package config

import (
	"net/url"
	"slices"

	"github.com/rickar/cal/v2"
	"github.com/rickar/cal/v2/ca"
	"github.com/rickar/cal/v2/us"

	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/level"
)

// Host is the host name of the shop's pages.
func (c *Config) Host() string {
	u, err := url.Parse(c.Shop.URL)
	if err != nil {
		return ""
	}
	return u.Hostname()
}

// holidayCalendars are the public holidays that settings can name.
func holidayCalendars() map[string][]*cal.Holiday {
	return map[string][]*cal.Holiday{"": nil, "us": us.Holidays, "ca": ca.Holidays}
}

// Closed lists the closed days of the years from one day to another: public
// holidays as they are observed, and the shop's own.
func (c *Config) Closed(from, to civil.Day) []civil.Day {
	var days []civil.Day
	for _, h := range holidayCalendars()[c.Weeks.Calendar] {
		// A New Year's Day on a Saturday is kept on the last day of the year before.
		for y := from.Year(); y <= to.Year()+1; y++ {
			_, observed := h.Calc(y)
			if observed.IsZero() {
				continue // not kept in that year
			}
			if d := civil.FromTime(observed); d >= from && d <= to {
				days = append(days, d)
			}
		}
	}
	for _, d := range c.Weeks.Holidays {
		if d >= from && d <= to {
			days = append(days, d)
		}
	}
	slices.Sort(days)
	return slices.Compact(days)
}

// IsClosed reports whether the shop is closed on a day by holiday.
func (c *Config) IsClosed(d civil.Day) bool { return len(c.Closed(d, d)) > 0 }

// Capacity is what the shop can sell in each week from one to another, both
// included: the technicians' hours on open days, less time off, times the
// allowance, and what the yard has. closed are days without work beside the settings' holidays, and days
// before notBefore are gone; 0 counts whole weeks.
func (c *Config) Capacity(from, to civil.Week, notBefore civil.Day, closed []civil.Day, away []level.Absence) []level.Capacity {
	s := level.Shop{
		Open:      [7]bool{true, true, true, true, true, true, true}, // hours of 0 say which are not
		Holidays:  append(c.Closed(from.Monday(), to.Sunday()), closed...),
		Absences:  away,
		Allowance: int(c.Weeks.Allowance*100 + 0.5),
		NotBefore: notBefore,
	}
	for _, t := range c.Weeks.Technicians {
		at := level.Technician{Name: t.Name}
		for i, h := range t.Hours { // Monday first here, Sunday first there
			at.Minutes[(i+1)%7] = int(h*60 + 0.5)
		}
		s.Technicians = append(s.Technicians, at)
	}
	weeks := s.Weeks(from, to)
	c.addYard(weeks, notBefore, s.Holidays)
	return weeks
}

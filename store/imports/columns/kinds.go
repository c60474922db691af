package columns

import (
	"slices"
	"strconv"
	"strings"
	"time"

	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/measure"
	"bellbuoy/store/internal/tables"
)

// Column is one column of rows of type R.
type Column[R any] struct {
	Name     string
	Required bool                          // in the header
	text     func(r *R) *string            // where it is a text; nil else
	cell     func(r *R) string             // as it is written
	read     func(l *Line, s string, r *R) // from a cell that is not empty
	check    func(l *Line, r *R)           // of what was read or came typed; may be nil
	copy     func(to, from *R)
}

// required says that a header without the column is a fault.
func required[R any](c Column[R]) Column[R] {
	c.Required = true
	return c
}

func text[R any](name string, at func(*R) *string) Column[R] {
	return Column[R]{
		Name: name, text: at,
		cell: func(r *R) string { return *at(r) },
		read: func(_ *Line, s string, r *R) { *at(r) = s },
		copy: func(to, from *R) { *at(to) = *at(from) },
	}
}

// written puts a text into the form in which it is kept, before it is checked.
func written[R any](c Column[R], form func(string) string) Column[R] {
	check := c.check
	c.check = func(l *Line, r *R) {
		*c.text(r) = form(*c.text(r))
		if check != nil {
			check(l, r)
		}
	}
	return c
}

// optionalID is an id; one that was merged into another stands for that one.
func optionalID[R any](name string, at func(*R) *string) Column[R] {
	c := text(name, at)
	c.check = func(l *Line, r *R) {
		s := at(r)
		if err := tables.CheckID(*s); err != nil {
			l.Fault(name, "%v", err)
		}
		if len(l.Shop.Merged) > 0 {
			if kept, ok := l.Shop.Merged[name+" "+*s]; ok {
				*s = kept
			}
		}
	}
	return c
}

// id is an id that no row may lack.
func id[R any](name string, at func(*R) *string) Column[R] {
	c := required(optionalID(name, at))
	check := c.check
	c.check = func(l *Line, r *R) {
		if *at(r) == "" && !l.Bad {
			l.Fault(name, "empty; every line needs one")
		}
		check(l, r)
	}
	return c
}

// word is a word of a list, or empty.
func word[R any](name string, list []string, at func(*R) *string) Column[R] {
	c := text(name, at)
	c.check = func(l *Line, r *R) { l.word(name, *at(r), list) }
	return c
}

// filled is a word of a list that no row may lack.
func filled[R any](name string, list []string, at func(*R) *string) Column[R] {
	return vouched(name, func(*Shop) []string { return list }, "empty; want one of "+strings.Join(list, ", "), at)
}

// vouched is a word that no row may lack and that the shop vouches for.
func vouched[R any](name string, list func(*Shop) []string, empty string, at func(*R) *string) Column[R] {
	c := required(text(name, at))
	c.check = func(l *Line, r *R) {
		if *at(r) == "" {
			l.Fault(name, "%s", empty)
		} else if all := list(l.Shop); len(all) > 0 {
			l.word(name, *at(r), all)
		}
	}
	return c
}

func day[R any](name string, at func(*R) *civil.Day) Column[R] {
	return Column[R]{
		Name: name,
		cell: func(r *R) string { return at(r).String() },
		read: func(l *Line, s string, r *R) {
			d, err := civil.Parse(s)
			if err != nil {
				l.Fault(name, "%v", err)
			}
			*at(r) = d
		},
		copy: func(to, from *R) { *at(to) = *at(from) },
	}
}

// pastDay is a day that has been by the shop's clock; a day ahead is a slip of the
// pen.
func pastDay[R any](name string, at func(*R) *civil.Day) Column[R] {
	c := day(name, at)
	c.check = func(l *Line, r *R) {
		if d := *at(r); d > l.Shop.Today {
			l.Fault(name, "%s is still to come; want a day that has been", d)
		}
	}
	return c
}

// dayOf is a past day that no row may lack.
func dayOf[R any](name, empty string, at func(*R) *civil.Day) Column[R] {
	c := required(pastDay(name, at))
	check := c.check
	c.check = func(l *Line, r *R) {
		if *at(r) == 0 {
			l.Fault(name, "%s", empty)
		}
		check(l, r)
	}
	return c
}

// stamp is a day of manufacture, which may be only a year or a month. A 1 January
// is written as its year.
func stamp[R any](name string, at func(*R) *civil.Day) Column[R] {
	c := day(name, at)
	c.cell = func(r *R) string {
		if y, m, d := at(r).Date(); *at(r) != 0 && m == time.January && d == 1 {
			return strconv.Itoa(y)
		}
		return at(r).String()
	}
	c.read = func(l *Line, s string, r *R) {
		full := s
		switch len(s) {
		case len("2006"):
			full += "-01-01"
		case len("2006-01"):
			full += "-01"
		}
		d, err := civil.Parse(full)
		if err != nil {
			l.Fault(name, "%q: want YYYY, YYYY-MM or YYYY-MM-DD", s)
		}
		*at(r) = d
	}
	return c
}

// hours are a meter's hours that may be missing.
func hours[R any](name string, at func(*R) (h *schedule.Hours, has *bool)) Column[R] {
	return Column[R]{
		Name: name,
		cell: func(r *R) string {
			if h, has := at(r); *has {
				return h.String()
			}
			return ""
		},
		read: func(l *Line, s string, r *R) {
			h, has := at(r)
			got, err := measure.ParseHours(s)
			if err != nil {
				l.Fault(name, "%v", err)
			}
			*h, *has = got, err == nil
		},
		copy: func(to, from *R) {
			h, has := at(to)
			was, had := at(from)
			*h, *has = *was, *had
		},
	}
}

// shown are hours that no row may lack.
func shown[R any](name, empty string, at func(*R) (h *schedule.Hours, has *bool)) Column[R] {
	c := required(hours(name, at))
	c.check = func(l *Line, r *R) {
		if _, has := at(r); !*has {
			l.Fault(name, "%s", empty)
		}
	}
	return c
}

// cents is an amount of money; none is 0.
func cents[R any](name string, at func(*R) *schedule.Cents) Column[R] {
	return Column[R]{
		Name: name,
		cell: func(r *R) string {
			if *at(r) == 0 {
				return ""
			}
			return at(r).String()
		},
		read: func(l *Line, s string, r *R) {
			c, err := measure.ParseCents(s)
			if err != nil {
				l.Fault(name, "%v", err)
			}
			*at(r) = c
		},
		copy: func(to, from *R) { *at(to) = *at(from) },
	}
}

// whole is a whole number within bounds, none if the cell is empty. 0 is written as
// an empty cell.
func whole[R any](name string, none int, bounds func(*Shop) (low, high int), at func(*R) *int) Column[R] {
	within := func(l *Line, n int, err error, s string) {
		if low, high := bounds(l.Shop); err != nil || n < low || n > high {
			l.Fault(name, "%q: want a whole number from %d to %d", s, low, high)
		}
	}
	return Column[R]{
		Name: name,
		cell: func(r *R) string {
			if *at(r) == 0 {
				return ""
			}
			return strconv.Itoa(*at(r))
		},
		read: func(l *Line, s string, r *R) {
			n, err := strconv.Atoi(s)
			if err != nil || n == 0 { // which check would take for none
				within(l, n, err, s)
			}
			*at(r) = n
		},
		check: func(l *Line, r *R) {
			if n := at(r); *n == 0 {
				*n = none
			} else {
				within(l, *n, nil, strconv.Itoa(*n))
			}
		},
		copy: func(to, from *R) { *at(to) = *at(from) },
	}
}

// feet is a length, 0 if not known.
func feet[R any](name string, at func(*R) *float64) Column[R] {
	return Column[R]{
		Name: name,
		cell: func(r *R) string {
			if *at(r) == 0 {
				return ""
			}
			return strconv.FormatFloat(*at(r), 'f', -1, 64)
		},
		read: func(l *Line, s string, r *R) {
			f, err := strconv.ParseFloat(s, 64)
			if err != nil || !(f >= 0 && f < 1000) {
				l.Fault(name, "%q: want a length in feet, for example 21.5", s)
				f = 0
			}
			*at(r) = f
		},
		copy: func(to, from *R) { *at(to) = *at(from) },
	}
}

// yes is a yes-or-no cell; empty is no.
func yes[R any](name string, at func(*R) *bool) Column[R] {
	return Column[R]{
		Name: name,
		cell: func(r *R) string {
			if *at(r) {
				return "yes"
			}
			return ""
		},
		read: func(l *Line, s string, r *R) {
			s = strings.ToLower(s)
			*at(r) = slices.Contains([]string{"1", "yes", "true"}, s)
			if !*at(r) && !slices.Contains([]string{"0", "no", "false"}, s) {
				l.Fault(name, "%q: want yes or no", s)
			}
		},
		copy: func(to, from *R) { *at(to) = *at(from) },
	}
}

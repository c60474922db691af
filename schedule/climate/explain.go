package climate

import (
	"fmt"
	"strings"

	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/words"
)

// staleDays is the age from which on data are called old: by then a whole
// autumn is missing from them.
const staleDays = 365

// Explain says in a few plain sentences by which day the first freeze has come
// in p percent of autumns, from what that is known, and that it is an estimate;
// or why there is no such day.
func (f *Freeze) Explain(p int, in words.Format) string {
	day, ok := f.Deadline(p)
	var s []string
	switch {
	case ok:
		s = append(s, f.explainDay(p, day, in))
	case f.mostlyMild():
		s = append(s, f.explainMild())
	case f.tooFew():
		s = append(s, fmt.Sprintf("%d autumns are the least from which a deadline can be told%s.", few, f.where()))
	case f.FreezesInPercent == notKnown && len(f.Percentiles) == 0:
		s = append(s, fmt.Sprintf("Nothing here tells when %s is first reached%s: set the winterization deadline by hand, or choose another station.", f.Threshold, f.where()))
	case f.Published:
		s = append(s, fmt.Sprintf("The published table has no %d%% day for %s%s.", p, f.Threshold, f.where()))
	default:
		s = append(s, fmt.Sprintf("Fewer than %d%% of autumns reach %s%s.", p, f.Threshold, f.where()))
	}
	return strings.Join(append(s, f.basis(in)), " ")
}

func (f *Freeze) explainDay(p int, day civil.MonthDay, in words.Format) string {
	text := fmt.Sprintf("In %d%% of autumns the first night at or below %s has come by %s%s", p, f.Threshold, in.OfYear(day), f.where())
	if half, ok := f.at(50); ok && p < 50 {
		text += fmt.Sprintf(", in half of them by %s", in.OfYear(half))
	}
	return text + ". This is an estimate from past years, not a forecast."
}

func (f *Freeze) explainMild() string {
	text := fmt.Sprintf("Most autumns do not reach %s%s (%.0f%% do), so there is no winterization deadline.", f.Threshold, f.where(), f.FreezesInPercent)
	if f.FreezesInPercent > 0 {
		text += " A cold night can still come, and water left in an engine can then break it: watch the forecast."
	}
	return text
}

func (f *Freeze) where() string {
	switch {
	case f.Name != "":
		return " at " + f.Name
	case f.Station != "":
		return " at station " + f.Station
	}
	return ""
}

// basis says what the figures stand on.
func (f *Freeze) basis(in words.Format) string {
	if f.Published {
		return "From published freeze normals, taken as they are."
	}
	used, _ := f.counts()
	if used == 0 {
		return fmt.Sprintf("No autumn has enough data; daily minima were last seen on %s.", in.Date(f.LastSeen))
	}
	text := fmt.Sprintf("From the daily minima of %s%s", autumns(used), f.years())
	if out := len(f.Autumns) - used; out > 0 {
		text += fmt.Sprintf(", with %d left out", out)
	}
	return fmt.Sprintf("%s; data last seen on %s.", text, in.Date(f.LastSeen))
}

// years names the first and last autumn used: " (1991 to 2019)".
func (f *Freeze) years() string {
	first, last := 0, 0
	for _, a := range f.Autumns {
		if a.Used && first == 0 {
			first = a.Year
		}
		if a.Used {
			last = a.Year
		}
	}
	if first == last {
		return fmt.Sprintf(" (%d)", first)
	}
	return fmt.Sprintf(" (%d to %d)", first, last)
}

// Stale returns a sentence if the data end a year or more before today, and ""
// if they do not or are published normals, which do not age by the day.
func (f *Freeze) Stale(today civil.Day, in words.Format) string {
	if f.Published || f.LastSeen == 0 || today-f.LastSeen < staleDays {
		return ""
	}
	return fmt.Sprintf("The data were last seen on %s: the station may have closed or been renamed, look for a newer file.", in.Date(f.LastSeen))
}

func autumns(n int) string {
	if n == 1 {
		return "1 autumn"
	}
	return fmt.Sprintf("%d autumns", n)
}

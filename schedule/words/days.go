package words

import (
	"cmp"
	"fmt"
	"strconv"

	"bellbuoy/schedule/civil"
)

// Date writes a day in full: "October 5, 2026", "5 octobre 2026"; "no day" for none.
func (f Format) Date(d civil.Day) string { return f.dated(d, f.MonthDay(d)) }

// ShortDate writes a day for tables and margins: "Oct 5, 2026"; "no day" for none.
func (f Format) ShortDate(d civil.Day) string { return f.dated(d, f.ShortMonthDay(d)) }

// MonthDay writes a day whose year is plain: "October 5".
func (f Format) MonthDay(d civil.Day) string { return f.ordered(d, &f.names().months) }

// ShortMonthDay writes a day of a list whose year is plain: "Oct 5".
func (f Format) ShortMonthDay(d civil.Day) string { return f.ordered(d, &f.names().monthsShort) }

// OfYear writes a day of any year: "October 5"; "no day" for none.
func (f Format) OfYear(md civil.MonthDay) string { return f.MonthDay(md.In(2024)) } // a leap year has them all

// Weekday names the day of the week: "Monday".
func (f Format) Weekday(d civil.Day) string { return f.names().days[d.Weekday()] }

// ShortWeekday names it in a list: "Mon".
func (f Format) ShortWeekday(d civil.Day) string { return f.names().daysShort[d.Weekday()] }

// On puts a weekday before a day that is written already: "Mon, Oct 5", and in
// French "lun. 5 oct.".
func (f Format) On(weekday, day string) string {
	if f.french {
		return weekday + " " + day
	}
	return weekday + ", " + day
}

// WeekdayDate writes a day in full with its weekday: "Monday, October 5, 2026".
func (f Format) WeekdayDate(d civil.Day) string { return f.On(f.Weekday(d), f.Date(d)) }

// Clock writes a time of day from its minute: "2:30 PM", "14:30", "14 h 30".
func (f Format) Clock(minute int) string {
	hour, minute := minute/60, minute%60
	switch f.time {
	case colon:
		return fmt.Sprintf("%02d:%02d", hour, minute)
	case frenchHrs:
		return fmt.Sprintf("%02d\u00a0h\u00a0%02d", hour, minute)
	}
	half := cmp.Or(f.am, "AM")
	if hour >= 12 {
		half = cmp.Or(f.pm, "PM")
	}
	return fmt.Sprintf("%d:%02d %s", (hour+11)%12+1, minute, half)
}

func (f Format) names() *names {
	if f.french {
		return &frenchNames
	}
	return &englishNames
}

func (f Format) ordered(d civil.Day, months *[12]string) string {
	if d == 0 {
		return "no day"
	}
	_, month, day := d.Date()
	name := months[month-1]
	switch f.order {
	case dayMonthYear:
		if f.french && day == 1 {
			return "1er " + name // an ordinal, which the CLDR's patterns do not have
		}
		return strconv.Itoa(day) + " " + name
	case yearMonthDay:
		return fmt.Sprintf("%02d-%02d", month, day)
	}
	return name + " " + strconv.Itoa(day)
}

// dated adds the year to a day that is written without.
func (f Format) dated(d civil.Day, written string) string {
	switch {
	case d == 0:
		return written
	case f.order == dayMonthYear:
		return written + " " + strconv.Itoa(d.Year())
	case f.order == yearMonthDay:
		return d.String()
	}
	return written + ", " + strconv.Itoa(d.Year())
}

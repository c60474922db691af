package app

import (
	"context"
	"slices"
	"strings"

	"bellbuoy/cmd/bellbuoy/internal/config"
	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/level"
	"bellbuoy/store"
)

// What a customer may choose: days that have room, with the hours at which boats are
// dropped off.

// mostWeeks is how many weeks a customer may choose from.
const mostWeeks = 10

// lateWeeks is how many weeks after the last one in time are looked at when
// none in time has room.
const lateWeeks = 8

// Opening is a day on which a customer may bring a boat.
type Opening struct {
	Day civil.Day
	// Hours are the minutes of the day that are left for dropping it off; none
	// where the shop names no such times or the boat is in its storage.
	Hours []int
}

// First is the first hour, -1 for the whole day.
func (o *Opening) First() int {
	if len(o.Hours) == 0 {
		return -1
	}
	return o.Hours[0]
}

// Openings returns the days on which some visits of one customer may come together, of
// the weeks that have room for them, in order of time. Without any in time, those of the
// first weeks after it are offered: late is better than never. All but the first must
// not be booked.
func (a *App) Openings(ctx context.Context, visits []*schedule.Visit, today civil.Day) ([]Opening, error) {
	hours, err := a.hoursFor(ctx, visits)
	if err != nil {
		return nil, err
	}
	j := a.levelJob(visits[0], today+1, nil)
	from, inTime := j.First, max(j.Deadline.Week(), visits[0].Week)
	for _, v := range visits[1:] {
		j := a.levelJob(v, today+1, nil)
		from, inTime = max(from, j.First), min(inTime, max(j.Deadline.Week(), v.Week))
	}
	all, err := a.DB.WeekLoads(ctx, from, max(from, inTime)+lateWeeks)
	if err != nil {
		return nil, err
	}
	load := make(map[civil.Week]store.WeekLoad, len(all))
	for _, l := range all {
		load[l.Week] = l
	}
	capacity, err := a.CapacityLeft(ctx, today+1, from, max(from, inTime)+lateWeeks)
	if err != nil {
		return nil, err
	}
	c, err := a.constraints(ctx, from.Monday(), nil, nil)
	if err != nil {
		return nil, err
	}
	var open []Opening
	weeks := 0
	for _, w := range capacity {
		if weeks == mostWeeks || w.Week > inTime && weeks > 0 {
			break
		}
		if w.Total()[level.Labor] <= 0 || !holdAll(visits, &w, load[w.Week]) {
			continue
		}
		days := a.daysToChoose(w.Week, today, c, visits)
		if len(days) == 0 {
			continue
		}
		loads, err := a.DB.DayLoads(ctx, w.Week, visits[0].ID)
		if err != nil {
			return nil, err
		}
		some := withRoom(days, loads, visits, hours, a.Config.DropOff.AtOnce)
		if len(some) > 0 {
			open, weeks = append(open, some...), weeks+1
		}
	}
	return open, nil
}

// lastWeek is the last week from a day on that has room for a visit by its deadline, 0 if
// no week has.
func (a *App) lastWeek(ctx context.Context, v *schedule.Visit, today civil.Day) (civil.Week, error) {
	first, last := max(today.Week(), v.Open.Week()), v.Deadline.Week()
	if last < first {
		return 0, nil
	}
	all, err := a.DB.WeekLoads(ctx, first, last)
	if err != nil {
		return 0, err
	}
	load := make(map[civil.Week]store.WeekLoad, len(all))
	for _, l := range all {
		load[l.Week] = l
	}
	weeks, err := a.CapacityLeft(ctx, today, first, last)
	for i := range slices.Backward(weeks) {
		if w := &weeks[i]; w.Through(v.Deadline)[level.Labor] > 0 && holdAll([]*schedule.Visit{v}, w, load[w.Week]) {
			return w.Week, err
		}
	}
	return 0, err
}

// holdAll reports whether a customer may take a week for some visits, one after the
// other.
func holdAll(visits []*schedule.Visit, w *level.Capacity, l store.WeekLoad) bool {
	l.Week = w.Week
	for _, v := range visits {
		own := withoutOwn(l, v)
		if !hasRoom(v, w, own.Booked, own.Pencilled) {
			return false
		}
		l, l.Booked = own, own.Booked.Plus(v.Needs())
	}
	return true
}

// WeeksFor returns the weeks of the days on which a visit may come.
func (a *App) WeeksFor(ctx context.Context, v *schedule.Visit, today civil.Day) ([]civil.Week, error) {
	open, err := a.Openings(ctx, []*schedule.Visit{v}, today)
	return WeeksOf(open), err
}

// WeeksOf are the weeks of some days, each once.
func WeeksOf(open []Opening) []civil.Week {
	var weeks []civil.Week
	for _, o := range open {
		if w := o.Day.Week(); !slices.Contains(weeks, w) {
			weeks = append(weeks, w)
		}
	}
	return weeks
}

// Nearest returns the day of some that is nearest to another, the earlier of two.
// There must be one.
func Nearest(open []Opening, to civil.Day) Opening {
	return slices.MinFunc(open, func(a, b Opening) int { return int(max(a.Day-to, to-a.Day)) - int(max(b.Day-to, to-b.Day)) })
}

// dropOffHours are the minutes of the day at which the boat of a visit may be dropped
// off; none where no hour is chosen.
func (a *App) dropOffHours(ctx context.Context, v *schedule.Visit) ([]int, error) {
	b, err := a.DB.Boat(ctx, v.BoatID)
	if err != nil || strings.HasPrefix(b.Berth, "shop-") {
		return nil, err
	}
	return a.Config.DropOff.Hours(), nil
}

// hoursFor are those at which some boats may be dropped off at once.
func (a *App) hoursFor(ctx context.Context, visits []*schedule.Visit) (hours []int, err error) {
	for _, v := range visits {
		if hours, err = a.dropOffHours(ctx, v); err != nil || len(hours) > 0 {
			break
		}
	}
	return hours, err
}

// workday is a day on which somebody works, with its minutes.
type workday struct {
	day     civil.Day
	minutes int // what may be planned, after absences and allowance
}

// workdays are the days of a week, after today, on which the shop is open.
func (a *App) workdays(ctx context.Context, week civil.Week, today civil.Day) ([]workday, error) {
	c, err := a.constraints(ctx, week.Monday(), nil, nil)
	return a.workdaysOf(week, today, c), err
}

func (a *App) workdaysOf(week civil.Week, today civil.Day, c constraints) []workday {
	var days []workday
	for d := max(week.Monday(), today+1); d <= week.Sunday(); d++ {
		if slices.Contains(c.closed, d) || a.Config.IsClosed(d) {
			continue
		}
		if n := a.minutesOn(d, c.away); n > 0 {
			days = append(days, workday{d, n})
		}
	}
	return days
}

// minutesOn is what may be planned on an open day.
func (a *App) minutesOn(d civil.Day, away []level.Absence) int {
	minutes := 0.0
	for i := range a.Config.Weeks.Technicians {
		minutes += clocked(&a.Config.Weeks.Technicians[i], d, away)
	}
	return int(minutes * a.Config.Weeks.Allowance)
}

// clocked is how many minutes a technician is at work on an open day.
func clocked(t *config.Technician, d civil.Day, away []level.Absence) float64 {
	gone := slices.ContainsFunc(away, func(a level.Absence) bool {
		return a.Technician == t.Name && a.From <= d && d <= a.To
	})
	if gone {
		return 0
	}
	return t.Hours[int(d-d.Week().Monday())] * 60
}

// notice is how many working days the shop needs before some visits.
func (a *App) notice(visits []*schedule.Visit) int {
	p, n := a.Policy(), 0
	for _, v := range visits {
		n = max(n, p.Notice(v))
	}
	return n
}

// tooSoon reports whether a customer who books a day today leaves the shop less working
// days than it needs.
func (a *App) tooSoon(d, today civil.Day, notice int) bool {
	return a.Policy().Window.WorkingDaysBefore(d, notice) < today
}

// daysToChoose are the days of a week on which the shop works, with its notice, up to
// the first deadline of some visits where there are any. The deadline of a booked visit
// is the booked day and says nothing.
func (a *App) daysToChoose(week civil.Week, today civil.Day, c constraints, visits []*schedule.Visit) []workday {
	notice := a.notice(visits)
	days := slices.DeleteFunc(a.workdaysOf(week, today, c), func(d workday) bool { return a.tooSoon(d.day, today, notice) })
	for _, v := range visits {
		if n := slices.IndexFunc(days, func(d workday) bool { return d.day > v.Deadline }); n > 0 && !v.Booked() {
			days = days[:n]
		}
	}
	return days
}

// withRoom are those days whose booked work leaves room for some visits and on which
// an hour is left, or if none leaves room those with the least work, since the week
// has the room.
func withRoom(days []workday, loads map[civil.Day]store.DayLoad, visits []*schedule.Visit, hours []int, atOnce int) []Opening {
	needs := 0
	for _, v := range visits {
		needs += v.Labour
	}
	var room, least []Opening
	fewest := 0
	for _, d := range days {
		o := Opening{d.day, freeHours(hours, loads[d.day].Hours, atOnce)}
		if len(hours) > 0 && len(o.Hours) == 0 {
			continue
		}
		n := loads[d.day].Taken[level.Labor]
		if n == 0 || n+needs <= d.minutes {
			room = append(room, o)
		}
		if len(least) == 0 || n < fewest {
			fewest, least = n, nil
		}
		if n == fewest {
			least = append(least, o)
		}
	}
	if len(room) > 0 {
		return room
	}
	return least
}

// freeHours are the drop-off times at which fewer boats are expected than the shop
// takes at once. A boat that the desk expects at another hour counts for the time
// before that.
func freeHours(hours, expected []int, atOnce int) []int {
	var free []int
	for i, h := range hours {
		n := 0
		for _, e := range expected {
			if e >= h && (i+1 == len(hours) || e < hours[i+1]) {
				n++
			}
		}
		if n < atOnce {
			free = append(free, h)
		}
	}
	return free
}

// customerFits says why a customer cannot take a day for some visits, at a minute of it
// or with -1 for the whole day. The first of them is asked about the day, for all.
func (a *App) customerFits(ctx context.Context, visits []*schedule.Visit, today civil.Day, minute int) ([]store.Fit, error) {
	hours, err := a.hoursFor(ctx, visits)
	if err != nil {
		return nil, err
	}
	open, err := a.Openings(ctx, visits, today)
	if err != nil {
		return nil, err
	}
	fits := make([]store.Fit, len(visits))
	for i := range fits {
		fits[i] = func(r *store.Room) error { return a.weekFits(r, today) }
	}
	weeks, inWeek := WeeksOf(open), fits[0]
	fits[0] = func(r *store.Room) error {
		switch notice := a.notice(visits); {
		case r.Day <= today:
			return ErrNoRoom
		case a.tooSoon(r.Day, today, notice):
			return &ShortNotice{r.Day, notice, a.Config.Format()}
		}
		if err := inWeek(r); err != nil {
			return err
		}
		if !slices.Contains(weeks, r.Day.Week()) {
			return ErrNoRoom
		}
		all := append([]*schedule.Visit{&r.Visit}, visits[1:]...)
		return a.dayFits(r, today, all, hours, minute)
	}
	return fits, nil
}

// weekFits says why a customer cannot take a week for a visit.
func (a *App) weekFits(r *store.Room, today civil.Day) error {
	w := a.capacityOf(r, today+1)
	if v := &r.Visit; !hasRoom(v, w, r.Booked, r.Pencilled) {
		return &FullWeek{w.Week, serving(v, w), r.Booked.Plus(r.Pencilled), v.Needs(), a.Config.Format()}
	}
	return nil
}

// dayFits says why a customer cannot take a day of a week that has room for some visits.
func (a *App) dayFits(r *store.Room, today civil.Day, visits []*schedule.Visit, hours []int, minute int) error {
	days := a.daysToChoose(r.Day.Week(), today, constraintsOf(r.Absences, r.Closed), visits)
	if !slices.ContainsFunc(days, func(d workday) bool { return d.day == r.Day }) {
		return ErrNoRoom
	}
	free := withRoom(days, r.OnDay, visits, hours, a.Config.DropOff.AtOnce)
	i := slices.IndexFunc(free, func(o Opening) bool { return o.Day == r.Day })
	switch {
	case i < 0:
		return &FullDay{r.Day, a.Config.Format()}
	case minute < 0 && len(hours) == 0 || slices.Contains(free[i].Hours, minute):
		return nil
	case slices.Contains(hours, minute):
		return &TakenHour{r.Day, minute, a.Config.Format()}
	}
	return ErrNoRoom
}

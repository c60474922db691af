package customer

import (
	"net/http"
	"slices"

	"bellbuoy/cmd/bellbuoy/internal/app"
	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
)

// choosing are the days on which boats may come.
type choosing struct {
	Open  []app.Opening // all of them
	Weeks []civil.Week  // theirs
	Week  civil.Week    // the one whose days are shown, none without room
	Kept  bool          // it is the week kept for the visit
	Days  []dayRow      // of that week
	Hours bool          // an hour is chosen with the day
	Pick  string        // the choice that is ticked
}

// dayRow is a day on which the boat may come.
type dayRow struct {
	Day     civil.Day
	Choices []dayChoice // one for each hour that is left, or one for the whole day
}

// dayChoice is a day, or an hour of it; Value is as [schedule.Booking.When] gives it.
type dayChoice struct{ Value, Words string }

// dayRowOf sets out a day to choose.
func (s pages) dayRowOf(o *app.Opening) dayRow {
	row := dayRow{Day: o.Day}
	for _, minute := range o.Hours {
		b := schedule.Booking{Day: o.Day, Minute: minute}
		row.Choices = append(row.Choices, dayChoice{b.When(), s.Format().Clock(minute)})
	}
	if len(o.Hours) == 0 {
		row.Choices = []dayChoice{{Value: o.Day.String()}}
	}
	return row
}

// choose sets out the days that may be taken for some visits: those of the week asked
// for, else of the one kept, else of the first with room. The day that a visit has is
// no choice.
func (s pages) choose(r *http.Request, visits []*schedule.Visit, kept civil.Week, own civil.Day) (c choosing, err error) {
	if c.Open, err = s.App.Openings(r.Context(), visits, s.Today()); err != nil || len(c.Open) == 0 {
		return c, err
	}
	c.Weeks = app.WeeksOf(c.Open)
	c.Week, c.Hours = c.Weeks[0], len(c.Open[0].Hours) > 0
	if slices.Contains(c.Weeks, kept) {
		c.Week = kept
	}
	if asked, err := civil.ParseWeek(r.FormValue("week")); err == nil && slices.Contains(c.Weeks, asked) {
		c.Week = asked
	}
	c.Kept = c.Week == kept
	for i := range c.Open {
		if o := &c.Open[i]; o.Day.Week() == c.Week && (o.Day != own || c.Hours) {
			c.Days = append(c.Days, s.dayRowOf(o))
		}
	}
	if len(c.Days) > 0 {
		c.Pick = c.Days[0].Choices[0].Value
	}
	return c, nil
}

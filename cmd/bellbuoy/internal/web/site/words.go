package site

import (
	"cmp"
	"fmt"
	"net/http"
	"strings"

	"bellbuoy/schedule"
	"bellbuoy/store"
	"bellbuoy/store/imports"
)

// Words that several pages share.

// berths say in words where a boat lives.
func BerthWords(code string) string {
	words := map[string]string{
		"own-dock": "at the owner's dock", "own-lift": "on the owner's lift", "trailer-home": "on its trailer at the owner's home",
		"shop-heated": "in our heated storage", "shop-inside": "in our storage, inside", "shop-outside": "in our storage, outside",
	}
	return cmp.Or(words[code], code)
}

// bookingWords names a booked visit: "Spring commissioning, 4 May 2027 at 9:00".
func (s *Site) bookingWords(b schedule.Booking) string {
	day := s.Format().Date(b.Day)
	if b.Minute >= 0 {
		day += " at " + s.Format().Clock(b.Minute)
	}
	return schedule.VisitTitle(b.Kind) + ", " + day
}

// standing is how a visit stands, in words.
type standing struct {
	Words string
	Late  bool
}

// standing says of a boat's visit what the week's list says of it. stage is how far
// it has come, "" while nobody pressed anything.
func (s *Site) standing(v schedule.Visit, stage store.Stage) standing {
	switch today := s.Today(); {
	case stage.InYard():
		return standing{StageWords(stage), false}
	case v.Booked() && v.DayPassed(today) != 0:
		return standing{s.visitWord(v), true}
	case !v.Booked() && v.Deadline < today:
		return standing{"▲ overdue", true}
	case v.Booked() || v.Week != 0:
		return standing{s.visitWord(v), false}
	}
	return standing{"○ planned", false}
}

// BookedFor words the day and the time of a booking.
func (s *Site) BookedFor(b *schedule.Booking) string {
	day := s.Format().WeekdayDate(b.Day)
	if b.Minute < 0 {
		return day
	}
	return s.Say("page.at", "day", day, "time", s.Format().Clock(b.Minute))
}

// About words an estimate in whole units of the currency; "" for nothing.
func (s *Site) About(c schedule.Cents) string {
	if c <= 0 {
		return ""
	}
	return s.Whole(c)
}

// faultPlace is where a fault is, as an editor shows it.
func faultPlace(f imports.Fault) string {
	var b strings.Builder
	b.WriteString(f.File)
	if f.Line > 0 {
		fmt.Fprintf(&b, ", line %d", f.Line)
	}
	if f.Field != "" {
		b.WriteString(", " + f.Field)
	}
	return b.String()
}

// Outcome is what a call may come to, with its button.
type Outcome struct{ Code, Name, About string }

// Outcomes are the ends of a call, the commonest first.
func Outcomes() []Outcome {
	return []Outcome{
		{store.CallNoAnswer, "No answer", "back on the call list tomorrow"},
		{store.CallMessage, "Left a message", "back on the call list in three days"},
		{store.CallRingsBack, "Will call back", "back on the call list in three days"},
		{store.CallSettled, "Discussed", "closes a request for a call"},
		{store.CallThinks, "Will think about it", "back on the call list in a week; no email about it before"},
		{store.CallDeclined, "Does not want it", "no more calls or emails about this visit; its hours are open again"},
	}
}

func OutcomeName(code string) string {
	if code == store.CallBooked {
		return "Booked"
	}
	for _, o := range Outcomes() {
		if o.Code == code {
			return o.Name
		}
	}
	return code
}

// visitWord names a visit in a row of a week.
func (s *Site) visitWord(v schedule.Visit) string {
	switch {
	case v.Booked() && v.DayPassed(s.Today()) != 0:
		return "? day passed"
	case v.Booked():
		return "● booked"
	case v.Told:
		return "◌ reminded"
	}
	return "◐ penciled in"
}

// bookedHour is the hour of a booked visit: "9:30 AM", "" for any time of the day.
func (s *Site) bookedHour(v schedule.Visit) string {
	if m := v.Booking.Minute; m >= 0 {
		return s.Format().Clock(m)
	}
	return ""
}

// Filled are the texts that say something.
func Filled(all ...string) []string {
	var out []string
	for _, s := range all {
		if s != "" {
			out = append(out, s)
		}
	}
	return out
}

// mostWords is how many characters of a customer's own words are kept.
const mostWords = 1000

// Typed reads a text of a form: trimmed, of one kind of line end, not endless.
func Typed(r *http.Request, field string) string {
	s := strings.TrimSpace(strings.ReplaceAll(r.FormValue(field), "\r\n", "\n"))
	if runes := []rune(s); len(runes) > mostWords {
		s = string(runes[:mostWords])
	}
	return s
}

// visitNamed names a visit that may have left the plan, by its id.
func visitNamed(id string) string {
	switch {
	case id == "":
		return ""
	case strings.Contains(id, "."+schedule.LayUp+"."):
		return schedule.VisitTitle(schedule.LayUp)
	case strings.Contains(id, "."+schedule.FitOut+"."):
		return schedule.VisitTitle(schedule.FitOut)
	}
	if strings.Contains(id, "."+schedule.Winter+".") {
		return schedule.VisitTitle(schedule.Winter)
	}
	return schedule.VisitTitle(schedule.Extra)
}

// StageWords names how far a visit has come on its day.
func StageWords(stage store.Stage) string {
	switch stage {
	case store.StageWaiting:
		return "waiting for parts"
	case store.StagePickedUp:
		return "picked up"
	case store.StageBooked:
		return "booked, and not here yet"
	}
	return string(stage)
}

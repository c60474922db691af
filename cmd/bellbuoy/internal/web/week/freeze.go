package week

import (
	"cmp"
	"fmt"
	"math"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"time"

	"bellbuoy/cmd/bellbuoy/internal/app"
	"bellbuoy/cmd/bellbuoy/internal/web/site"
	"bellbuoy/notify"
	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/climate/watch"
	"bellbuoy/schedule/words"
	"bellbuoy/store/freeze"
)

// freezePage is the freeze watch: what the forecast says of each place, the boats
// at risk in the order in which they freeze, whom to call, and how the season went.
type freezePage struct {
	Places  []freezePlace
	MayBook bool
	Back    string
}

type freezePlace struct {
	app.FreezePlace
	Age     string // of the forecast and its source, in a sentence
	Nights  []freezeNight
	Lines   []freezeLine
	Calls   []freezeCall
	Script  string // what to say
	Mail    string // who hears by email, in a sentence
	Season  string // what was called and what came
	Outcome []freezeOutcome
	Alarms  []string // the season's, newest first, each with what became of it
}

type freezeNight struct {
	Day                civil.Day
	Level              string // "quiet", "watch", "ALARM" or "not known"
	Loud               bool
	Low, Hours, Chance string
	Climate            string
}

// freezeLine is one boat at risk.
type freezeLine struct {
	app.FreezeBoat
	N       int
	State   string
	Late    bool
	Needs   string // what stands under the boat beside why: hours, how the owner hears
	CutHere string // the hours end before this boat
	MayBook bool
	Back    string
}

// freezeCall is one owner to call, with the boats to talk about.
type freezeCall struct {
	Owner schedule.Customer
	Boats []app.FreezeBoat
	Why   string
	Note  string // address of the form for a call note
}

type freezeOutcome struct {
	Night                     civil.Day
	Forecast, Recorded, Words string
}

// freezeFew is how many boats at risk the due list shows.
const freezeFew = 6

func (s pages) freeze(r *http.Request) (site.Response, error) {
	who, _ := site.StaffOf(r)
	p := freezePage{MayBook: who.Level() >= site.Desk, Back: "/freeze"}
	places, err := s.App.FreezeWatch(r.Context(), s.Now(), app.FreezeTellings)
	if err != nil {
		return site.Response{}, err
	}
	events, err := freeze.Events(r.Context(), s.App.DB, civil.Of(schedule.LayUpSeason(s.Today()), time.July, 1))
	if err != nil {
		return site.Response{}, err
	}
	for i := range places {
		fp := s.freezePlace(&places[i], p.MayBook, p.Back)
		for _, e := range slices.Backward(events) {
			if e.Place == fp.Place {
				fp.Alarms = append(fp.Alarms, s.alarmWords(&e.Event))
			}
		}
		season, err := s.App.FreezeSeason(r.Context(), fp.Place, s.Today())
		if err != nil {
			return site.Response{}, err
		}
		fp.Season, fp.Outcome = seasonWords(&season), outcomes(&season, s.Format())
		p.Places = append(p.Places, fp)
	}
	return site.Response{Page: "freeze.html", Data: &p}, nil
}

// weekFreeze is what the due list of the running week says of a freeze.
type weekFreeze struct {
	Alarm bool         // an alarm stands somewhere
	Words string       // where and when, and how many boats
	Lines []freezeLine // the first boats of all of them
	Rest  int          // boats that are not shown
}

// freezeOfWeek are the places with a night worth a look and a boat at risk.
func (s pages) freezeOfWeek(r *http.Request, detail app.FreezeDetail, mayBook bool, back string) ([]freezePlace, error) {
	places, err := s.App.FreezeWatch(r.Context(), s.Now(), detail)
	if err != nil {
		return nil, err
	}
	var out []freezePlace
	for i := range places {
		if len(places[i].Boats) > 0 {
			out = append(out, s.freezePlace(&places[i], mayBook, back))
		}
	}
	return out, nil
}

// weekFreeze sums them up for the due list, nil if there are none.
func (s pages) weekFreeze(r *http.Request, mayBook bool, back string) (*weekFreeze, error) {
	places, err := s.freezeOfWeek(r, app.FreezeBoats, mayBook, back)
	if err != nil || len(places) == 0 {
		return nil, err
	}
	w := &weekFreeze{Words: freezeWords(places, s.Format())}
	for i := range places {
		w.Alarm = w.Alarm || places[i].Event != nil
		w.Lines = append(w.Lines, places[i].Lines...)
	}
	slices.SortStableFunc(w.Lines, func(a, b freezeLine) int { return a.Compare(&b.FreezeBoat) })
	w.Rest = max(0, len(w.Lines)-freezeFew)
	w.Lines = w.Lines[:min(freezeFew, len(w.Lines))]
	for i := range w.Lines {
		w.Lines[i].N, w.Lines[i].CutHere = i+1, ""
	}
	return w, nil
}

// freezeWords says where and when a freeze is to come, and how many boats are at
// risk: of one place in full, of several in one sentence.
func freezeWords(places []freezePlace, in words.Format) string {
	if len(places) == 1 {
		return places[0].Brief(in)
	}
	boats, missing, first := 0, 0, &places[0]
	var where []string
	for i := range places {
		p := &places[i]
		boats, missing = boats+len(p.Boats), missing+p.Short
		where = append(where, fmt.Sprintf("%s %d", p.Place, len(p.Boats)))
		if p.Freeze.Night < first.Freeze.Night {
			first = p
		}
	}
	s := fmt.Sprintf("%s in %s: %s at risk (%s).", in.Temperature(first.Freeze.Tenths), first.Freeze.When(in), words.Plural(boats, "boat is", "boats are"), strings.Join(where, ", "))
	if missing > 0 {
		s += " " + in.Number(float64(missing)/60, 1) + " h are missing until then."
	}
	return s
}

func (s pages) freezePlace(in *app.FreezePlace, mayBook bool, back string) freezePlace {
	p := freezePlace{FreezePlace: *in, Age: s.forecastAge(in)}
	for i := range in.Nights {
		p.Nights = append(p.Nights, nightLine(&in.Nights[i], in.TooOld, s.Format()))
	}
	cut := false
	for i, b := range in.Boats {
		l := freezeLine{FreezeBoat: b, N: i + 1, State: "not booked", Late: true, MayBook: mayBook, Back: back}
		switch {
		case b.InTime:
			l.State, l.Late = "booked "+unbroken(s.LogDay(b.Visit.Booking.Day)), false
		case b.After:
			l.State = "booked " + s.LogDay(b.Visit.Booking.Day) + ", after it"
		case b.Visit.Week != 0:
			l.State, l.Late = "week of "+unbroken(s.LogDay(b.Visit.Week.Monday())), b.Visit.Week.Monday() >= in.Freeze.Night
		}
		if b.Minutes > 0 {
			l.Needs = s.Format().Number(float64(b.Minutes)/60, 1) + " h for the winterization alone"
		}
		if t := tellingWords(&b, in, s); t != "" {
			l.Needs += " · " + t
		}
		if b.Cut && !cut {
			cut = true
			l.CutHere = fmt.Sprintf("The shop's hours until %s end here: %s h are missing for the boats below.", s.Format().Weekday(in.Freeze.Night-1), s.Format().Number(float64(in.Short)/60, 1))
		}
		p.Lines = append(p.Lines, l)
	}
	p.Calls, p.Script = freezeCalls(in, back), s.App.FreezeScript(in)
	p.Mail = mailWords(in)
	return p
}

// unbroken is a day that stays on one line.
func unbroken(day string) string { return strings.ReplaceAll(day, " ", "\u00a0") }

// freezeCalls are the owners to call, each once, in the order of danger.
func freezeCalls(p *app.FreezePlace, back string) []freezeCall {
	var out []freezeCall
	for _, b := range p.FreezeCalls() {
		i := slices.IndexFunc(out, func(c freezeCall) bool { return c.Owner.ID == b.Owner.ID })
		if i < 0 {
			i = len(out)
			c := freezeCall{Owner: b.Owner, Why: cmp.Or(b.Telling.Why, "freeze emails are off")}
			c.Note = "/boats/" + url.PathEscape(b.Boat.ID) + "/call?visit=" + url.QueryEscape(b.Visit.ID) + "&back=" + url.QueryEscape(back)
			out = append(out, c)
		}
		out[i].Boats = append(out[i].Boats, b)
	}
	return out
}

// forecastAge says how old the forecast is and whose, and what went wrong since.
func (s pages) forecastAge(p *app.FreezePlace) string {
	k := &p.Known
	text := "No forecast has come yet."
	if f := k.Forecast; f != nil {
		text = fmt.Sprintf("Forecast of %s, %s old, asked for %s. %s.", s.moment(f.Issued), ageWords(f.Age(s.Now())), s.moment(k.FetchedAt), f.Source.Credit())
		if p.TooOld {
			text += " It is too old to raise an alarm."
		}
	}
	if k.Fault != "" {
		text += " The last try failed: " + k.Fault + "."
	}
	return text
}

// moment is an instant by the shop's clock, "Oct 7, 2:05 PM".
func (s pages) moment(t time.Time) string {
	return s.LogDay(s.DayOf(t)) + ", " + s.Hour(t)
}

func ageWords(d time.Duration) string {
	switch h := d.Hours(); {
	case h < 1:
		return "less than an hour"
	case h < 48:
		return words.Plural(int(h), "hour", "hours")
	default:
		return words.Plural(int(h/24), "day", "days")
	}
}

func nightLine(n *app.FreezeNight, tooOld bool, in words.Format) freezeNight {
	l := freezeNight{Day: n.To, Level: n.Level.String()}
	if n.HasBy {
		l.Climate = fmt.Sprintf("first freeze by then in %d of 100 autumns", n.By)
	}
	if !n.Known {
		l.Level = "not covered by the forecast"
		return l
	}
	l.Loud = n.Level == watch.Alarm && !tooOld
	if l.Loud {
		l.Level = "ALARM"
	}
	l.Low = in.Temperature(int(math.Round(n.YardLow * 10)))
	l.Hours = "above freezing all night"
	if n.Freezing > 0 {
		l.Hours = fmt.Sprintf("%.0f h at or below freezing, %.0f h of hard freeze", n.Freezing, n.HardHours)
	}
	l.Chance = fmt.Sprintf("chance of a hard freeze about %.0f%%", 100*n.Chance)
	if n.Chance < 0.01 {
		l.Chance = "hardly a chance of a hard freeze"
	}
	return l
}

// tellingWords says how a boat's owner hears of the freeze.
func tellingWords(b *app.FreezeBoat, p *app.FreezePlace, s pages) string {
	switch {
	case p.Event == nil || b.InTime:
		return ""
	case b.Called != nil:
		return "called " + s.moment(b.Called.At)
	}
	switch b.Telling.Way {
	case notify.FreezeNotified:
		return "emailed " + s.LogDay(b.Telling.On)
	case notify.FreezeByMail:
		if p.Sending {
			return "an email is on its way"
		}
		return "to call: freeze emails are off"
	case notify.FreezeByCall:
		return "to call: " + b.Telling.Why
	case notify.FreezeEnough:
		return "has heard of three freezes this season, so of no more"
	}
	return ""
}

// mailWords says who hears by email, or would.
func mailWords(p *app.FreezePlace) string {
	if p.Event == nil {
		return ""
	}
	owners := map[string]bool{}
	for _, b := range p.Boats {
		if b.Telling.Way == notify.FreezeByMail || b.Telling.Way == notify.FreezeNotified {
			owners[b.Owner.ID] = true
		}
	}
	if p.Sending {
		return fmt.Sprintf("%s by email, once for this freeze.", words.Plural(len(owners), "owner hears", "owners hear"))
	}
	return fmt.Sprintf("%s With them on, %s by email.", p.MailWhy, words.Plural(len(owners), "owner would hear", "owners would hear"))
}

// alarmWords says what became of an alarm.
func (s pages) alarmWords(e *watch.Event) string {
	text := fmt.Sprintf("%s: alarm raised %s", schedule.Freeze{Night: e.Run.First, Tenths: e.Low}.Words(s.Format()), s.moment(e.RaisedAt))
	switch e.Ended {
	case watch.Relented:
		text += fmt.Sprintf("; lifted %s, as two forecasts in a row were above it. The plan went back.", s.moment(e.EndedAt))
	case watch.Passed:
		text += "; the night has passed."
	default:
		text += "; it stands."
	}
	if e.Brings != 0 && e.Ended == watch.Open {
		text += " Winterizations there are due by " + s.LogDay(e.Brings-1) + "."
	}
	return text
}

// seasonWords sums the season up.
func seasonWords(x *app.FreezeSeason) string {
	if len(x.Nights) == 0 {
		return ""
	}
	s := fmt.Sprintf("%s called this season: %s, %s.", words.Plural(x.Called, "night was", "nights were"),
		words.Plural(x.Hits, "hit", "hits"), words.Plural(x.FalseAlarms, "false alarm", "false alarms"))
	if x.Missed > 0 {
		s += fmt.Sprintf(" %s not called.", words.Plural(x.Missed, "hard freeze was", "hard freezes were"))
	}
	if x.Unknown > 0 {
		s += fmt.Sprintf(` For %s the station's record is not loaded yet ("bellbuoy climate load").`, words.Plural(x.Unknown, "night", "nights"))
	}
	return s
}

func outcomes(x *app.FreezeSeason, in words.Format) []freezeOutcome {
	var out []freezeOutcome
	for _, n := range slices.Backward(x.Nights) {
		o := freezeOutcome{Night: n.Night.Night, Forecast: in.Temperature(int(math.Round(n.Low * 10))), Recorded: "not loaded yet", Words: "called"}
		if n.HasRecorded {
			o.Recorded = in.Temperature(n.Recorded)
			switch {
			case n.Level == watch.Alarm && n.Froze:
				o.Words = "called, and it froze hard"
			case n.Level == watch.Alarm:
				o.Words = "called, and it did not freeze hard"
			default:
				o.Words = "froze hard, and was not called"
			}
		}
		out = append(out, o)
	}
	return out
}

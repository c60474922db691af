package site

import (
	"context"
	"embed"
	"fmt"
	"html/template"
	"io"
	"io/fs"
	"net/http"
	"net/url"
	"path"
	"strconv"
	"strings"
	"time"

	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/words"
	"bellbuoy/store/outbox"
	"bellbuoy/store/report"
)

//go:embed pages/*.html
var pageFiles embed.FS

// pages holds one template set for each page, all parsed at the start.
type pages struct{ sets map[string]*template.Template }

// frame is what every page is rendered with.
type frame struct {
	Shop  string
	Today civil.Day
	Here  string // path of the page, to mark it in the menu
	Staff string // who is signed in, "" for nobody
	Role  string
	Demo  bool
	Alarm string // why mail has stopped by itself, "" while it has not
	// Replies counts what customers wait for; see [store.DB.OpenAnswers].
	Replies int
	// Calls counts who asked for a call and was not tried since; see
	// [report.CallsWaiting].
	Calls int
	Note  string // what the form that led here did
	Data  any
}

func (s *Site) frame(r *http.Request, a Response) frame {
	f := frame{
		Shop: s.App.Config.Shop.Name, Today: civil.FromTime(s.Now().In(s.App.Config.Zone())),
		Here: r.URL.Path, Demo: s.Demo, Data: a.Data,
	}
	if who, ok := StaffOf(r); ok {
		f.Staff, f.Role = who.Name, who.Role
		f.Alarm = s.mailAlarm(r, who)
		f.Replies = s.count(r, "replies", s.App.DB.CountOpenAnswers)
		if who.Level() >= Desk {
			f.Calls = s.count(r, "calls", func(ctx context.Context) (int, error) { return report.CallsWaiting(ctx, s.App.DB) })
		}
	}
	return f
}

// mailAlarm says on the desk's pages that mail has stopped by itself, so that
// nobody waits for answers to letters that never left.
func (s *Site) mailAlarm(r *http.Request, who Staff) string {
	if who.Level() < Desk {
		return ""
	}
	st, err := outbox.Sending(r.Context(), s.App.DB)
	switch {
	case gone(r, err):
	case err != nil:
		s.Log.ErrorContext(r.Context(), "mail alarm", "error", err)
	case st.PausedWhy != "":
		return "No email is being sent: sending is paused. " + st.PausedWhy
	case st.HeldWhy != "":
		return "No email is being sent: sending is on hold. " + st.HeldWhy
	}
	return ""
}

// count is a number for the menu; a page without it is better than none.
func (s *Site) count(r *http.Request, of string, count func(context.Context) (int, error)) int {
	n, err := count(r.Context())
	if err != nil && !gone(r, err) {
		s.Log.ErrorContext(r.Context(), "count for the menu", "of", of, "error", err)
	}
	return n
}

// loadPages parses every page together with the layout and the shared parts.
func loadPages(s *Site) (*pages, error) {
	base := template.New("layout.html").Funcs(s.funcs())
	for _, w := range s.wings {
		if w.Funcs != nil {
			base.Funcs(w.Funcs(s))
		}
	}
	base, err := base.ParseFS(pageFiles, "pages/layout.html", "pages/parts.html", "pages/people-parts.html")
	if err != nil {
		return nil, fmt.Errorf("page layout: %w", err)
	}
	p := &pages{sets: make(map[string]*template.Template)}
	names, err := fs.Glob(pageFiles, "pages/*.html")
	if err != nil {
		return nil, err
	}
	for _, n := range names {
		name := path.Base(n)
		if name == "layout.html" || name == "parts.html" || name == "people-parts.html" {
			continue
		}
		set, err := base.Clone()
		if err == nil {
			set, err = set.ParseFS(pageFiles, n)
		}
		if err != nil {
			return nil, fmt.Errorf("page %s: %w", name, err)
		}
		p.sets[name] = set
	}
	return p, nil
}

func (p *pages) render(w io.Writer, name string, data any) error {
	set, ok := p.sets[name]
	if !ok {
		return fmt.Errorf("page %q: no such template", name)
	}
	return set.ExecuteTemplate(w, "layout.html", data)
}

// funcs are the words that templates may use.
func (s *Site) funcs() template.FuncMap {
	return template.FuncMap{
		"asset":        s.static.url,
		"money":        s.money,
		"hours":        func(minutes int) string { return schedule.Hours((minutes+3)/6).String() + " h" },
		"long":         func(d civil.Day) string { return d.Long() },
		"short":        ShortDay,
		"logday":       s.LogDay,
		"logdaylong":   s.logDayLong,
		"full":         WeekdayLong,
		"whole":        s.About,
		"weekday":      func(d civil.Day) string { return d.Weekday().String()[:3] },
		"lower":        strings.ToLower,
		"plural":       words.Plural,
		"outcome":      OutcomeName,
		"faultplace":   faultPlace,
		"shown":        ShownDay,
		"visitword":    s.visitWord,
		"missedday":    missedDay,
		"bookingwords": bookingWords,
		"daypassed":    func(v schedule.Visit) bool { return v.Booked() && v.DayPassed(s.Today()) != 0 },
		"standing":     s.standing,
		"berth":        BerthWords,
		"kindtitle":    schedule.VisitTitle,
		"visittitle":   func(v schedule.Visit) string { return schedule.VisitTitle(v.Kind) },
		"quantity":     func(q float64) string { return strconv.FormatFloat(q, 'f', -1, 64) },
		"dayof":        s.DayOf,
		"hour":         func(t time.Time) string { return t.In(s.App.Config.Zone()).Format("15:04") },
		"bookedhour":   bookedHour,
		"path":         url.PathEscape,
		"clock":        func(t time.Time) string { return t.In(s.App.Config.Zone()).Format("2 Jan 2006 15:04") },
	}
}

// money is an amount to the cent, as somebody paid it.
func (s *Site) money(c schedule.Cents) string { return words.Money(s.App.Config.Shop.Currency, c) }

// Whole is an amount in whole units, for estimates and tables.
func (s *Site) Whole(c schedule.Cents) string {
	return words.WholeMoney(s.App.Config.Shop.Currency, c)
}

// ShortDay is the day as it stands in the date gutter: "12 Apr 2027".
func ShortDay(d civil.Day) string {
	if d == 0 {
		return "no day"
	}
	y, m, day := d.Date()
	return fmt.Sprintf("%d %s %d", day, m.String()[:3], y)
}

// LogDay is a day in a list about the present: "Sep 14", with its year where that
// is not this one and half a year away.
func (s *Site) LogDay(d civil.Day) string { return s.nearDay(d, d.MonthDay()) }

// logDayLong is the same in full: "September 14".
func (s *Site) logDayLong(d civil.Day) string {
	_, month, day := d.Date()
	return s.nearDay(d, fmt.Sprintf("%s %d", month, day))
}

// nearDay adds the year to the words for a day that might be meant of another.
func (s *Site) nearDay(d civil.Day, words string) string {
	const halfYear = 183 // days
	if away := d - s.Today(); d.Year() == s.Today().Year() || -halfYear < away && away < halfYear {
		return words
	}
	return fmt.Sprintf("%s, %d", words, d.Year())
}

// missedDay says which booked day of a visit passed without recorded work and holds
// it no longer; "" for none.
func missedDay(v schedule.Visit) string {
	if v.Booked() || v.Missed == 0 {
		return ""
	}
	return "Was booked for " + v.Missed.Long() + "; no work is recorded."
}

// ShownDay is the day that a visit is shown under: the booked one, the Monday
// of its week, or the day that suits it best.
func ShownDay(v schedule.Visit) civil.Day {
	from, _ := v.SpanOn()
	return from
}

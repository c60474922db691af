package site

import (
	"context"
	"embed"
	"fmt"
	"html/template"
	"io"
	"net/http"
	"net/url"
	"runtime"
	"slices"
	"strings"
	"sync"
	"time"

	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/texts"
	"bellbuoy/schedule/words"
	"bellbuoy/store/outbox"
	"bellbuoy/store/report"
)

//go:embed pages/*.html
var pageFiles embed.FS

// Pages are the parsed templates that no request uses at the moment; a page is parsed
// when somebody first opens it. Shops of one process share them, because parsing takes
// long and what comes of it much memory.
type Pages struct {
	mu   sync.Mutex
	idle map[pageKey][]*template.Template // as a page is rendered at several times at once
}

// pageKey names a page in a language.
type pageKey struct{ language, name string }

// pages are a shop's pages: the templates, and the words that its own settings make
// for them, by language.
type pages struct {
	*Pages
	words map[string][]template.FuncMap
}

// frame is what every page is rendered with.
type frame struct {
	Shop  string
	Today civil.Day
	Here  string // path of the page, to mark it in the menu
	Staff string // who is signed in, "" for nobody
	Role  string
	Demo  bool
	Alarm string // why mail has stopped by itself, "" while it has not
	// Replaced: that is because another machine runs the shop.
	Replaced bool
	// Replies counts what customers wait for; see [store.DB.OpenAnswers].
	Replies int
	// Calls counts who asked for a call and was not tried since; see
	// [report.CallsWaiting].
	Calls int
	Note  string // what the form that led here did
	// Languages are the same page in others, for a customer.
	Languages []Other
	Data      any
}

func (s *Site) frame(r *http.Request, a Response) frame {
	f := frame{
		Shop: s.App.Config.Shop.Name, Today: civil.FromTime(s.Now().In(s.App.Config.Zone())),
		Here: r.URL.Path, Demo: s.Demo, Languages: a.Languages, Data: a.Data,
	}
	if who, ok := StaffOf(r); ok {
		f.Staff, f.Role = who.Name, who.Role
		f.Alarm, f.Replaced = s.mailAlarm(r, who), s.App.Elsewhere != nil && s.App.Elsewhere()
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
	if s.App.Elsewhere != nil && s.App.Elsewhere() {
		return "Another machine runs the shop now, by its lease: this one sends no email and takes nothing that is entered. Open the shop's usual address."
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
	case st.On && s.App.MaySend != nil && !s.App.MaySend():
		return "No email is being sent: this machine does not have the lease. For up to a minute and a half after a start that is as it should be; later on the log says why."
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

// loadPages makes the words of a shop's pages.
func loadPages(s *Site) *pages {
	p := &pages{Pages: s.Pages, words: make(map[string][]template.FuncMap)}
	for _, language := range texts.Languages() {
		in := s.In(language)
		of := []template.FuncMap{in.funcs(), in.languageFuncs()}
		for _, w := range s.wings {
			if w.Funcs != nil {
				of = append(of, w.Funcs(in))
			}
		}
		p.words[language] = of
	}
	return p
}

// layout are the files that belong to every page.
var layout = []string{"pages/layout.html", "pages/parts.html", "pages/people-parts.html"}

// parse parses a page together with the layout and the shared parts.
func (p *pages) parse(key pageKey) (*template.Template, error) {
	set := template.New("layout.html")
	for _, words := range p.words[key.language] {
		set.Funcs(words)
	}
	set, err := set.ParseFS(pageFiles, append(slices.Clone(layout), "pages/"+key.name)...)
	if err != nil {
		return nil, fmt.Errorf("page %s: %w", key.name, err)
	}
	return set, nil
}

// render writes a page in a language. While it does, the templates are this shop's.
func (p *pages) render(w io.Writer, language, name string, data any) error {
	key := pageKey{language, name}
	set, err := p.take(key)
	if err != nil {
		return err
	}
	for _, words := range p.words[language] {
		set.Funcs(words)
	}
	err = set.ExecuteTemplate(w, "layout.html", data)
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.idle == nil {
		p.idle = make(map[pageKey][]*template.Template)
	}
	if len(p.idle[key]) < runtime.GOMAXPROCS(0) { // more are not rendered at once for long
		p.idle[key] = append(p.idle[key], set)
	}
	return err
}

// take takes a page's templates away from the others, or parses them once more.
func (p *pages) take(key pageKey) (*template.Template, error) {
	p.mu.Lock()
	if idle := p.idle[key]; len(idle) > 0 {
		last := len(idle) - 1
		set := idle[last] // before anybody else can put theirs in its place
		p.idle[key] = idle[:last]
		p.mu.Unlock()
		return set, nil
	}
	p.mu.Unlock()
	return p.parse(key)
}

// funcs are the words that templates may use.
func (s *Site) funcs() template.FuncMap {
	return template.FuncMap{
		"asset":        s.static.url,
		"money":        s.money,
		"labor":        s.Format().Labor,
		"hours":        func(minutes int) string { return s.Format().Labor(minutes) + " h" },
		"meter":        s.Format().Hours,
		"feet":         s.Format().Length,
		"format":       s.Format,
		"long":         s.Format().Date,
		"short":        s.Format().ShortDate,
		"logday":       s.LogDay,
		"logdaylong":   s.logDayLong,
		"full":         s.Format().WeekdayDate,
		"whole":        s.About,
		"weekday":      s.Format().ShortWeekday,
		"onday":        s.onDay,
		"ondaylong":    s.onDayLong,
		"lower":        strings.ToLower,
		"plural":       words.Plural,
		"outcome":      OutcomeName,
		"faultplace":   faultPlace,
		"shown":        ShownDay,
		"visitword":    s.visitWord,
		"missedday":    s.missedDay,
		"bookingwords": s.bookingWords,
		"daypassed":    func(v schedule.Visit) bool { return v.Booked() && v.DayPassed(s.Today()) != 0 },
		"standing":     s.standing,
		"berth":        BerthWords,
		"kindtitle":    schedule.VisitTitle,
		"visittitle":   func(v schedule.Visit) string { return schedule.VisitTitle(v.Kind) },
		"quantity":     s.Format().Quantity,
		"decimals":     words.Decimals,
		"dayof":        s.DayOf,
		"hour":         s.Hour,
		"bookedhour":   s.bookedHour,
		"path":         url.PathEscape,
		"breakable":    breakable,
		"clock":        s.moment,
		"languages":    texts.Languages,
		"languagename": texts.EnglishName,
		"shoplanguage": func() string { return s.App.Config.Shop.Language },
	}
}

// money is an amount to the cent, as somebody paid it.
func (s *Site) money(c schedule.Cents) string { return s.Format().Money(c) }

// Whole is an amount in whole units, for estimates and tables.
func (s *Site) Whole(c schedule.Cents) string {
	return s.Format().WholeMoney(c)
}

// LogDay is a day in a list about the present: "Sep 14", with its year where that
// is not this one and half a year away.
func (s *Site) LogDay(d civil.Day) string {
	return s.nearDay(d, s.Format().ShortMonthDay, s.Format().ShortDate)
}

// onDay is the same with its weekday: "Mon, Sep 14".
func (s *Site) onDay(d civil.Day) string {
	return s.Format().On(s.Format().ShortWeekday(d), s.LogDay(d))
}

// onDayLong is the same in full: "Monday, September 14".
func (s *Site) onDayLong(d civil.Day) string {
	return s.Format().On(s.Format().Weekday(d), s.logDayLong(d))
}

// logDayLong is the same in full: "September 14".
func (s *Site) logDayLong(d civil.Day) string {
	return s.nearDay(d, s.Format().MonthDay, s.Format().Date)
}

// nearDay writes a day with its year if it might be meant of another.
func (s *Site) nearDay(d civil.Day, without, with func(civil.Day) string) string {
	const halfYear = 183 // days
	if away := d - s.Today(); d.Year() == s.Today().Year() || -halfYear < away && away < halfYear {
		return without(d)
	}
	return with(d)
}

// Hour is the time of day of a moment by the shop's clock.
func (s *Site) Hour(t time.Time) string {
	t = t.In(s.App.Config.Zone())
	return s.Format().Clock(t.Hour()*60 + t.Minute())
}

// moment is a moment by the shop's clock: "Oct 5, 2026, 2:30 PM".
func (s *Site) moment(t time.Time) string { return s.Format().ShortDate(s.DayOf(t)) + ", " + s.Hour(t) }

// missedDay says which booked day of a visit passed without recorded work and holds
// it no longer; "" for none.
func (s *Site) missedDay(v schedule.Visit) string {
	if v.Booked() || v.Missed == 0 {
		return ""
	}
	return "Was booked for " + s.Format().Date(v.Missed) + "; no work is recorded."
}

// ShownDay is the day that a visit is shown under: the booked one, the Monday
// of its week, or the day that suits it best.
func ShownDay(v schedule.Visit) civil.Day {
	from, _ := v.SpanOn()
	return from
}

// breakable is an email address that a narrow page breaks before its "@", not in a word.
func breakable(address string) template.HTML {
	return template.HTML(strings.ReplaceAll(template.HTMLEscapeString(address), "@", "<wbr>@"))
}

package owner

import (
	"bytes"
	"context"
	"net/http"
	"net/url"

	"bellbuoy/cmd/bellbuoy/internal/figures"
	"bellbuoy/cmd/bellbuoy/internal/web/site"
	"bellbuoy/schedule/returns"
	"bellbuoy/store/report"
)

// ownerPage is what the owner's pages have in common.
type ownerPage struct {
	Here  string // the part of the figures, to mark it in the list of parts
	Since string // the day of the oldest record, in words
	Group bool   // whoever reads this may see the figures of the shop's group
	Data  any
}

// ledger reads the books as of today, once for as long as they stand as they do, and
// then what has changed of them: most of what a page takes at ten thousand boats is
// reading half a million lines of work.
func (s pages) ledger(ctx context.Context) (*figures.Ledger, error) {
	return s.books.While(ctx, s.Site, s.App.DB.BooksMark, "", func(before *figures.Ledger) (*figures.Ledger, error) {
		return figures.Reopen(ctx, s.App, s.Today(), before)
	})
}

// ownerAnswer reads the books, makes a page's figures from them and wraps them.
func ownerAnswer[T any](s pages, r *http.Request, here, page string, figures func(*figures.Ledger) (T, error)) (site.Response, error) {
	l, err := s.ledger(r.Context())
	if err != nil {
		return site.Response{}, err
	}
	data, err := figures(l)
	if err != nil {
		return site.Response{}, err
	}
	return site.Response{Page: page, Data: ownerPage{Here: here, Since: s.Format().Date(l.Since), Group: s.groupOf(r) != nil, Data: data}}, nil
}

func (s pages) ownerMoney(r *http.Request) (site.Response, error) {
	return ownerAnswer(s, r, "money", "owner.html", func(l *figures.Ledger) (*figures.Revenue, error) { return l.Revenue(r.Context()) })
}

func (s pages) ownerCompare(r *http.Request) (site.Response, error) {
	return ownerAnswer(s, r, "compare", "owner-compare.html", func(l *figures.Ledger) (*figures.Comparison, error) { return l.Comparison(r.Context()) })
}

// ownerSeasonPage is one season's funnel.
type ownerSeasonPage struct {
	*figures.SeasonFunnel
	Seasons []returns.Season // that can be chosen, the newest first
}

func (s pages) ownerSeason(r *http.Request) (site.Response, error) {
	return ownerAnswer(s, r, "season", "owner-season.html", func(l *figures.Ledger) (*ownerSeasonPage, error) {
		season := returns.SeasonOf(l.Today)
		if v := r.FormValue("season"); v != "" {
			var err error
			if season, err = returns.ParseSeason(v); err != nil {
				return nil, site.NewProblem(http.StatusBadRequest, "That season could not be read. Seasons are written like 2027-autumn.")
			}
		}
		f, err := l.Funnel(r.Context(), season)
		p := &ownerSeasonPage{SeasonFunnel: f}
		for x := returns.SeasonOf(l.Today); !x.Before(l.First) && len(p.Seasons) < 8; x = returns.SeasonOf(x.First() - 1) {
			p.Seasons = append(p.Seasons, x)
		}
		return p, err
	})
}

func (s pages) ownerNudges(r *http.Request) (site.Response, error) {
	return ownerAnswer(s, r, "season", "owner-second-reminder.html", func(l *figures.Ledger) (*figures.Nudges, error) { return l.Nudges(r.Context()) })
}

// ownerReturningPage is who comes back, and after how long.
type ownerReturningPage struct {
	Rates        figures.Rates
	First, Lapse figures.Times
	LapseMonths  int
}

func (s pages) ownerReturning(r *http.Request) (site.Response, error) {
	return ownerAnswer(s, r, "returning", "owner-returning.html", func(l *figures.Ledger) (*ownerReturningPage, error) {
		return &ownerReturningPage{Rates: l.Rates(), First: l.Times("first"), Lapse: l.Times("lapse"), LapseMonths: returns.LapseMonths}, nil
	})
}

func (s pages) ownerAhead(r *http.Request) (site.Response, error) {
	return ownerAnswer(s, r, "ahead", "owner-ahead.html", func(l *figures.Ledger) (*figures.Expectation, error) { return l.Expectation(r.Context()) })
}

func (s pages) ownerWork(r *http.Request) (site.Response, error) {
	return ownerAnswer(s, r, "work", "owner-work.html", func(l *figures.Ledger) (*figures.Workload, error) { return l.Workload(r.Context()) })
}

// awayMany is how many boats the page of those that slipped away shows; the
// list has them all.
const awayMany = 50

// ownerAwayPage is who has slipped away.
type ownerAwayPage struct {
	Away  []figures.Away
	Total figures.Figure // of all, not only those shown
	Note  string
}

func (s pages) ownerAway(r *http.Request) (site.Response, error) {
	return ownerAnswer(s, r, "lapsed", "owner-lapsed.html", func(l *figures.Ledger) (*ownerAwayPage, error) {
		all, err := l.Away(r.Context())
		p := &ownerAwayPage{Away: all[:min(awayMany, len(all))], Total: figures.AwayFigure(all), Note: site.NoteOf(r)}
		return p, err
	})
}

// ownerRing puts a customer who slipped away on the call list.
func (s pages) ownerRing(r *http.Request) (site.Response, error) {
	l, err := s.ledger(r.Context())
	if err != nil {
		return site.Response{}, err
	}
	boat := r.PostFormValue("boat")
	err = l.PutOnCallList(r.Context(), report.CallRequest{BoatID: boat, At: s.Now(), Actor: site.Actor(r)})
	return site.Response{To: "/owner/lapsed#" + url.PathEscape(boat)}, err
}

func (s pages) ownerLetter(r *http.Request) (site.Response, error) {
	return ownerAnswer(s, r, "report", "owner-report.html", func(l *figures.Ledger) (*figures.MonthlyReport, error) {
		return s.report.Of(r.Context(), s.Site, "", func() (*figures.MonthlyReport, error) { return l.MonthlyReport(r.Context()) })
	})
}

func (s pages) ownerWords(r *http.Request) (site.Response, error) {
	return ownerAnswer(s, r, "words", "owner-words.html", func(*figures.Ledger) (int, error) { return returns.LapseMonths, nil })
}

// listMany is how many rows a list shows as a page; the file has them all.
const listMany = 500

// ownerListPage is the list behind a figure.
type ownerListPage struct {
	*figures.Table
	Rows []ownerListRow
	More int      // rows that the page leaves out
	Feet []string // the sums of the columns; none where there is nothing to add up
	CSV  string
}

// cellClass is how the page sets a column of a kind: days and amounts never break.
var cellClass = map[figures.CellKind]string{figures.CellDay: "day", figures.CellNumber: "num", figures.CellMoney: "num"}

type ownerListRow struct {
	Boat  string
	Cells []ownerCell
}

type ownerCell struct {
	Text  string
	Class string // of the style sheet: "day", "num" or ""
	Boat  string // the boat that the cell links to, "" for none
}

func (s pages) ownerList(r *http.Request) (site.Response, error) {
	return ownerAnswer(s, r, "", "owner-list.html", func(l *figures.Ledger) (*ownerListPage, error) {
		t, err := listTable(r, l)
		if err != nil {
			return nil, err
		}
		p := &ownerListPage{Table: t, CSV: "/owner/csv/" + t.Query.String()}
		if len(t.Rows) > 0 && t.HasTotal {
			for j, c := range t.Columns {
				if p.Feet = append(p.Feet, ""); c.Kind == figures.CellMoney {
					p.Feet[j] = s.Format().Money(t.Sums[j])
				}
			}
		}
		for i, row := range t.Rows {
			if i == listMany {
				p.More = len(t.Rows) - listMany
				break
			}
			out := ownerListRow{Boat: t.Boats[i]}
			for j, text := range row {
				c := ownerCell{Text: text, Class: cellClass[t.Columns[j].Kind]}
				if t.Columns[j].Name == "Boat" {
					c.Boat = t.Boats[i]
				}
				out.Cells = append(out.Cells, c)
			}
			p.Rows = append(p.Rows, out)
		}
		return p, nil
	})
}

// listTable makes the list that a request asks for.
func listTable(r *http.Request, l *figures.Ledger) (*figures.Table, error) {
	q, err := figures.ParseQuery(r.PathValue("name"), r.URL.Query())
	if err != nil {
		return nil, site.NewProblem(http.StatusBadRequest, "That list could not be read: "+err.Error()+".")
	}
	return l.List(r.Context(), q)
}

// ownerCSV answers with the list as a file.
func (s pages) ownerCSV(w http.ResponseWriter, r *http.Request) {
	data, name, err := s.listCSV(r)
	if err != nil {
		s.Fail(w, r, err)
		return
	}
	w.Header().Set("Content-Type", "text/csv; charset=utf-8; header=present")
	w.Header().Set("Content-Disposition", `attachment; filename="`+name+`"`)
	w.Header().Set("Cache-Control", "no-store")
	w.Write(data)
}

func (s pages) listCSV(r *http.Request) (data []byte, name string, err error) {
	l, err := s.ledger(r.Context())
	if err != nil {
		return nil, "", err
	}
	t, err := listTable(r, l)
	if err != nil {
		return nil, "", err
	}
	var buf bytes.Buffer
	err = t.WriteCSV(&buf)
	return buf.Bytes(), t.Query.List + "-" + l.Today.String() + ".csv", err
}

package web

import (
	"bytes"
	"context"
	"net/http"
	"net/url"

	"bellbuoy/cmd/bellbuoy/internal/figures"
	"bellbuoy/schedule/returns"
	"bellbuoy/store"
)

// ownerRoutes are the owner's figures. Every figure links to the list that it
// is counted from; the list is a page and a file for spreadsheet programs.
func (s *Server) ownerRoutes() []route {
	return []route{
		{pattern: "GET /owner", who: owner, page: s.ownerMoney},
		{pattern: "GET /owner/season", who: owner, page: s.ownerSeason},
		{pattern: "GET /owner/nudges", who: owner, page: s.ownerNudges},
		{pattern: "GET /owner/returning", who: owner, page: s.ownerReturning},
		{pattern: "GET /owner/ahead", who: owner, page: s.ownerAhead},
		{pattern: "GET /owner/work", who: owner, page: s.ownerWork},
		{pattern: "GET /owner/away", who: owner, page: s.ownerAway},
		{pattern: "POST /owner/away", who: owner, page: s.ownerRing},
		{pattern: "GET /owner/letter", who: owner, page: s.ownerLetter},
		{pattern: "GET /owner/words", who: owner, page: s.ownerWords},
		{pattern: "GET /owner/list/{name}", who: owner, page: s.ownerList},
		{pattern: "GET /owner/csv/{name}", who: owner, raw: http.HandlerFunc(s.ownerCSV)},
		{pattern: "GET /owner/chart/{name}", who: owner, raw: s.svg(s.ownerSVG)},
	}
}

// ownerPage is what the owner's pages have in common.
type ownerPage struct {
	Here  string // the part of the figures, to mark it in the list of parts
	Since string // the day of the oldest record, in words
	Data  any
}

// ledger reads the books as of today.
func (s *Server) ledger(ctx context.Context) (*figures.Ledger, error) {
	return figures.Open(ctx, s.App, s.today())
}

// ownerAnswer reads the books, makes a page's figures from them and wraps them.
func ownerAnswer[T any](s *Server, r *http.Request, here, page string, figures func(*figures.Ledger) (T, error)) (response, error) {
	l, err := s.ledger(r.Context())
	if err != nil {
		return response{}, err
	}
	data, err := figures(l)
	if err != nil {
		return response{}, err
	}
	return response{page: page, data: ownerPage{Here: here, Since: l.Since.Long(), Data: data}}, nil
}

func (s *Server) ownerMoney(r *http.Request) (response, error) {
	return ownerAnswer(s, r, "money", "owner.html", func(l *figures.Ledger) (*figures.Revenue, error) { return l.Revenue(r.Context()) })
}

// ownerSeasonPage is one season's funnel.
type ownerSeasonPage struct {
	*figures.SeasonFunnel
	Seasons []returns.Season // that can be chosen, the newest first
}

func (s *Server) ownerSeason(r *http.Request) (response, error) {
	return ownerAnswer(s, r, "season", "owner-season.html", func(l *figures.Ledger) (*ownerSeasonPage, error) {
		season := returns.SeasonOf(l.Today)
		if v := r.FormValue("season"); v != "" {
			var err error
			if season, err = returns.ParseSeason(v); err != nil {
				return nil, problem{http.StatusBadRequest, "That season could not be read. Seasons are written like 2027-autumn."}
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

func (s *Server) ownerNudges(r *http.Request) (response, error) {
	return ownerAnswer(s, r, "season", "owner-nudges.html", func(l *figures.Ledger) (*figures.Nudges, error) { return l.Nudges(r.Context()) })
}

// ownerReturningPage is who comes back, and after how long.
type ownerReturningPage struct {
	Rates        figures.Rates
	First, Lapse figures.Times
	LapseMonths  int
}

func (s *Server) ownerReturning(r *http.Request) (response, error) {
	return ownerAnswer(s, r, "returning", "owner-returning.html", func(l *figures.Ledger) (*ownerReturningPage, error) {
		return &ownerReturningPage{Rates: l.Rates(), First: l.Times("first"), Lapse: l.Times("lapse"), LapseMonths: returns.LapseMonths}, nil
	})
}

func (s *Server) ownerAhead(r *http.Request) (response, error) {
	return ownerAnswer(s, r, "ahead", "owner-ahead.html", func(l *figures.Ledger) (*figures.Expectation, error) { return l.Expectation(r.Context()) })
}

func (s *Server) ownerWork(r *http.Request) (response, error) {
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

func (s *Server) ownerAway(r *http.Request) (response, error) {
	return ownerAnswer(s, r, "away", "owner-away.html", func(l *figures.Ledger) (*ownerAwayPage, error) {
		all, err := l.Away(r.Context())
		p := &ownerAwayPage{Away: all[:min(awayMany, len(all))], Total: figures.AwayFigure(all), Note: noteOf(r)}
		return p, err
	})
}

// ownerRing puts a customer who slipped away on the phone round.
func (s *Server) ownerRing(r *http.Request) (response, error) {
	l, err := s.ledger(r.Context())
	if err != nil {
		return response{}, err
	}
	boat := r.PostFormValue("boat")
	err = l.PutOnRound(r.Context(), store.RingWish{BoatID: boat, At: s.Now(), Actor: actor(r)})
	return response{to: "/owner/away#" + url.PathEscape(boat)}, err
}

func (s *Server) ownerLetter(r *http.Request) (response, error) {
	return ownerAnswer(s, r, "letter", "owner-letter.html", func(l *figures.Ledger) (*figures.MonthlyReport, error) { return l.MonthlyReport(r.Context()) })
}

func (s *Server) ownerWords(r *http.Request) (response, error) {
	return ownerAnswer(s, r, "words", "owner-words.html", func(*figures.Ledger) (int, error) { return returns.LapseMonths, nil })
}

// listMany is how many rows a list shows as a page; the file has them all.
const listMany = 500

// ownerListPage is the list behind a figure.
type ownerListPage struct {
	*figures.Table
	Rows []ownerListRow
	More int // rows that the page leaves out
	CSV  string
}

type ownerListRow struct {
	Boat  string
	Cells []ownerCell
}

type ownerCell struct {
	Text string
	Num  bool
	Boat string // the boat that the cell links to, "" for none
}

func (s *Server) ownerList(r *http.Request) (response, error) {
	return ownerAnswer(s, r, "", "owner-list.html", func(l *figures.Ledger) (*ownerListPage, error) {
		t, err := listTable(r, l)
		if err != nil {
			return nil, err
		}
		p := &ownerListPage{Table: t, CSV: "/owner/csv/" + t.Query.String()}
		for i, row := range t.Rows {
			if i == listMany {
				p.More = len(t.Rows) - listMany
				break
			}
			out := ownerListRow{Boat: t.Boats[i]}
			for j, text := range row {
				c := ownerCell{Text: text, Num: t.Columns[j].Kind == figures.CellNumber || t.Columns[j].Kind == figures.CellMoney}
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
		return nil, problem{http.StatusBadRequest, "That list could not be read: " + err.Error() + "."}
	}
	return l.List(r.Context(), q)
}

// ownerCSV answers with the list as a file.
func (s *Server) ownerCSV(w http.ResponseWriter, r *http.Request) {
	data, name, err := s.listCSV(r)
	if err != nil {
		s.fail(w, r, err)
		return
	}
	w.Header().Set("Content-Type", "text/csv; charset=utf-8; header=present")
	w.Header().Set("Content-Disposition", `attachment; filename="`+name+`"`)
	w.Header().Set("Cache-Control", "no-store")
	w.Write(data)
}

func (s *Server) listCSV(r *http.Request) (data []byte, name string, err error) {
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

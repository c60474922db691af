package week

import (
	"net/http"
	"slices"

	"bellbuoy/cmd/bellbuoy/internal/web/site"
	"bellbuoy/schedule/civil"
	"bellbuoy/store/report"
)

// latePage names the visits that will miss their deadline, by the week that lacks
// the hours.
type latePage struct {
	Rows  []weekLine // all of them
	Words string
	Weeks []lateWeek
	// Chosen are those that the desk put into a week after their deadline.
	Chosen []weekLine
}

type lateWeek struct {
	Week  civil.Week
	Lacks string // "31 h and 2 lifts"
	Rows  []weekLine
}

func (s pages) late(r *http.Request) (site.Response, error) {
	late, err := s.App.Late(r.Context(), s.Today())
	if err != nil {
		return site.Response{}, err
	}
	p := latePage{Words: late.Words(s.Format())}
	if p.Rows, err = s.visitLines(r, late.Visits, "/late"); err != nil {
		return site.Response{}, err
	}
	lines := make(map[string]weekLine, len(p.Rows))
	for _, l := range p.Rows {
		lines[l.Visit.ID] = l
	}
	for _, w := range late.Weeks {
		week := lateWeek{Week: w.Week, Lacks: w.Lacks(s.Format())}
		for _, v := range w.Visits {
			if l, ok := lines[v.ID]; ok {
				week.Rows = append(week.Rows, l)
			}
		}
		p.Weeks = append(p.Weeks, week)
	}
	for _, id := range late.Chosen {
		if l, ok := lines[id]; ok {
			l.Facts = slices.DeleteFunc(l.Facts, func(f string) bool { return f == deskChose }) // the heading says it
			l.add("planned for the week of " + s.LogDay(l.Visit.Week.Monday()))
			p.Chosen = append(p.Chosen, l)
		}
	}
	return site.Response{Page: "late.html", Data: &p}, nil
}

// visitLines words the rows of some visits, in their order, for a list at an
// address.
func (s pages) visitLines(r *http.Request, ids []string, back string) ([]weekLine, error) {
	rows, err := report.VisitRows(r.Context(), s.App.DB, ids)
	if err != nil {
		return nil, err
	}
	w, err := s.rowWords(r, back)
	if err != nil {
		return nil, err
	}
	if w.replies, err = s.repliesOfWeek(r.Context(), []report.WeekSection{{Rows: rows}}); err != nil {
		return nil, err
	}
	lines := make([]weekLine, len(rows))
	for i := range rows {
		part := report.WeekPencilled
		if rows[i].Visit.Booked() {
			part = report.WeekBooked
			if rows[i].Visit.DayPassed(s.Today()) != 0 {
				part = report.WeekDayPassed
			}
		}
		lines[i] = w.line(&rows[i], part)
	}
	return lines, nil
}

// rowWords words the rows of a list at an address for whoever is signed in.
func (s pages) rowWords(r *http.Request, back string) (*rowWords, error) {
	places, err := s.App.Places(r.Context())
	who, _ := site.StaffOf(r)
	return &rowWords{pages: s, places: places, back: back, mayBook: who.Level() >= site.Desk}, err
}

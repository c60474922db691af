package web_test

import (
	"fmt"
	"html"
	"strings"
	"testing"

	"bellbuoy/store/report"
)

// TestPageAndCommandListTheSame: what the command prints of a week is what its
// page shows, part by part, the owner's own jobs among it.
func TestPageAndCommandListTheSame(t *testing.T) {
	s := newTestShop(t)
	desk := s.hire("Inge", "desk")
	seen := make(map[report.WeekPart]bool)
	for w := s.today().Week() - 1; w < s.today().Week()+60; w++ {
		rows, err := s.app.DueList(t.Context(), w, s.today())
		if err != nil {
			t.Fatal(err)
		}
		count := make(map[report.WeekPart]int)
		page := s.as(desk, "GET", "/?week="+w.String(), nil)
		for _, r := range rows {
			count[r.Part]++
			seen[r.Part] = true
			page.says(r.Boat.Title())
			if r.Part == report.WeekOwner {
				page.says("the owner does it", r.Visit.Lines[0].Title)
			}
		}
		for part, name := range map[report.WeekPart]string{
			report.WeekOverdue: "overdue", report.WeekLapsed: "lapsed", report.WeekBooked: "booked", report.WeekPencilled: "penciled in",
			report.WeekDue: "due", report.WeekUnreachable: "cannot be reached", report.WeekOwner: "the owner's own",
		} {
			if count[part] == 0 {
				if strings.Contains(page.Body.String(), "</b> "+html.EscapeString(name)+"</a>") {
					t.Errorf("week %s counts %q where there are none", w, name)
				}
				continue
			}
			page.says(fmt.Sprintf("%d %s", count[part], name))
		}
	}
	for _, part := range []report.WeekPart{report.WeekPencilled, report.WeekDue, report.WeekUnreachable, report.WeekOwner} {
		if !seen[part] {
			t.Errorf("no week of the year has anything in %q: the test proves too little", part)
		}
	}
}

package app_test

import (
	"bytes"
	"net/url"
	"slices"
	"testing"

	"github.com/emersion/go-ical"

	"bellbuoy/notify/feed"
	"bellbuoy/notify/link"
	"bellbuoy/schedule/civil"
	"bellbuoy/store/report"
)

// TestTheDesksCalendarIsTheDueList: what the due list has booked or penciled in for a
// week stands in that week of the desk's calendar, and what else stands there is on
// the list as overdue.
func TestTheDesksCalendarIsTheDueList(t *testing.T) {
	today := theDay(t, figuresDay)
	a := soldShop(t, today, 80, 3, 4)
	settle(t, a, today)
	shop, err := url.Parse(a.Config.Shop.URL)
	if err != nil {
		t.Fatal(err)
	}
	planned := map[string]civil.Week{} // by UID
	known := map[string]bool{}         // also what has no week
	for w := today.Week(); w < today.Week()+12; w++ {
		sections, err := a.DueWeek(t.Context(), report.WeekQuery{Week: w, Today: today, Limit: 1000})
		if err != nil {
			t.Fatal(err)
		}
		for _, sec := range sections {
			for _, r := range sec.Rows {
				uid := feed.UID(shop.Hostname(), r.Visit.ID)
				known[uid] = true
				if slices.Contains([]report.WeekPart{report.WeekBooked, report.WeekPencilled}, sec.Part) {
					planned[uid] = w
				}
			}
		}
	}
	if len(planned) < 20 {
		t.Fatalf("only %d visits are planned; the shop is too quiet to tell", len(planned))
	}
	f, err := a.Feed(t.Context(), link.ScopeDesk, "", today)
	if err != nil {
		t.Fatal(err)
	}
	cal, err := ical.NewDecoder(bytes.NewReader(f.Body)).Decode()
	if err != nil {
		t.Fatal(err)
	}
	events := map[string]civil.Day{}
	for _, e := range cal.Events() {
		if e.Props.Get(ical.PropCategories).Value == "Due" {
			continue // no visit: the owner's own jobs
		}
		start, err := e.DateTimeStart(a.Config.Zone())
		if err != nil {
			t.Fatal(err)
		}
		events[e.Props.Get(ical.PropUID).Value] = civil.FromTime(start.In(a.Config.Zone()))
	}
	for uid, w := range planned {
		if got, ok := events[uid]; !ok || got.Week() != w {
			t.Errorf("%s is on the due list of %s, in the calendar on %s", uid, w, got)
		}
	}
	for uid, day := range events {
		if w := day.Week(); w >= today.Week() && w < today.Week()+12 && !known[uid] {
			t.Errorf("%s is in the calendar on %s and on no due list", uid, day)
		}
	}
}

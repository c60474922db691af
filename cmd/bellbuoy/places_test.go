package main

import (
	"fmt"
	"net/http"
	"net/url"
	"path/filepath"
	"strings"
	"sync"
	"testing"

	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/level"
)

// TestTwoDaemonsGiveNoPlaceTwice lets 24 customers take days of one week at the
// same moment, half of them on each of two daemons that share one file: the week
// never holds more than its 30 hours. Meanwhile the desk books from the command
// line, and is told when the week is full.
func TestTwoDaemonsGiveNoPlaceTwice(t *testing.T) {
	if testing.Short() {
		t.Skip("starts a daemon, or several commands")
	}
	s := newShop(t, lindrake(t, ""))
	s.today = "2026-11-25"
	s.do(t, "import", filepath.Join(testdata, "rivals"))
	s.do(t, "plan", "B0")
	daemons := []*served{s.serve(t), s.serve(t)}
	h := s.open(t)
	const n, desk = 24, 4
	var visits, pages [n]string
	for i := range n {
		plan, err := h.DB.Plan(t.Context(), fmt.Sprintf("B%d", i))
		if err != nil || len(plan.Visits) == 0 {
			t.Fatal(plan, err)
		}
		visits[i] = plan.Visits[0].ID
		page, err := h.MyURL(t.Context(), fmt.Sprintf("C%d", i))
		if err != nil {
			t.Fatal(err)
		}
		pages[i] = daemons[i%2].base + strings.TrimPrefix(page, h.Config.Shop.URL)
	}
	day := civil.Of(2027, 4, 5)
	client := &http.Client{CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}
	var all sync.WaitGroup
	var booked [n]bool
	for i := range n {
		on := (day + civil.Day(i%5)).String()
		if i < desk {
			all.Go(func() {
				out := s.tryDo(t, "book", fmt.Sprintf("B%d", i), visits[i], on)
				if booked[i] = strings.HasPrefix(out, "Booked"); !booked[i] && !strings.Contains(out, "is full") && !strings.Contains(out, "h of that day are booked") {
					t.Errorf("the desk reads %q", out)
				}
			})
			continue
		}
		all.Go(func() {
			r, err := client.PostForm(pages[i]+"/answer", url.Values{"kind": {"take"}, "visit": {visits[i]}, "day": {on}})
			if err != nil {
				t.Error(err)
				return
			}
			r.Body.Close()
			if booked[i] = r.StatusCode == http.StatusSeeOther; !booked[i] && r.StatusCode != http.StatusUnprocessableEntity {
				t.Errorf("customer %d: answered %d", i, r.StatusCode)
			}
		})
	}
	all.Wait()
	loads, err := h.DB.WeekLoads(t.Context(), day.Week(), day.Week())
	if err != nil || len(loads) != 1 || loads[0].Booked[level.Labor] == 0 || loads[0].Booked[level.Labor] > 30*60 {
		t.Errorf("load %+v of 30 hours, %v", loads, err)
	}
	for i := range n {
		plan, err := h.DB.Plan(t.Context(), fmt.Sprintf("B%d", i))
		if err != nil || (plan.Visits[0].Booking != nil) != booked[i] {
			t.Errorf("boat B%d: told booked %v, and the file says %+v, %v", i, booked[i], plan.Visits[0].Booking, err)
		}
	}
}

package demo_test

import (
	"fmt"
	"reflect"
	"testing"

	"bellbuoy/cmd/bellbuoy/internal/demo"
	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
)

// pastVisits are visits of some customers in a year, half of which came.
func pastVisits(day civil.Day) []demo.SeasonVisit {
	var all []demo.SeasonVisit
	for i := range 400 {
		v := demo.SeasonVisit{
			CustomerID: fmt.Sprint("C", i/2), BoatID: fmt.Sprint("B", i), VisitID: fmt.Sprint("B", i, ".fit-out.2026"), Kind: schedule.FitOut, Day: day,
		}
		switch i % 4 {
		case 0, 1:
			v.Came = day - civil.Day(i%60)
		case 2:
			v.Open = true
		}
		all = append(all, v)
	}
	return all
}

// TestLettersFitWhatHappened: nobody is written to after they came or answered,
// no nudge goes to a customer whose lot is to get none, and the steps keep their
// order.
func TestLettersFitWhatHappened(t *testing.T) {
	day := civil.Of(2026, 5, 4)
	visits := pastVisits(day)
	w := demo.Write(source(3), visits, day+100)
	if again := demo.Write(source(3), visits, day+100); !reflect.DeepEqual(w, again) {
		t.Error("the same source gives other letters")
	}
	said, held, steps := map[string]demo.VisitNote{}, map[string]bool{}, map[string]map[schedule.Step]civil.Day{}
	for _, s := range w.Notes {
		said[s.VisitID] = s
	}
	lots := map[string]bool{}
	for _, x := range w.Holdouts {
		held[x.VisitID] = x.Held
		if first, known := lots[x.CustomerID]; known && first != x.Held {
			t.Errorf("customer %s is on both sides", x.CustomerID)
		}
		lots[x.CustomerID] = x.Held
	}
	for _, h := range w.Notified {
		if steps[h.Subject] == nil {
			steps[h.Subject] = map[schedule.Step]civil.Day{}
		}
		steps[h.Subject][h.Step] = h.On
	}
	counts := map[schedule.Step]int{}
	for _, v := range visits {
		s, answered := said[v.VisitID]
		if answered && (s.Booked != (v.Came != 0) || v.Open || v.Came != 0 && s.On >= v.Came) {
			t.Errorf("%s came on %s, open %v, and said %+v", v.VisitID, v.Came, v.Open, s)
		}
		for step, on := range steps[v.VisitID] {
			counts[step]++
			if v.Came != 0 && on >= v.Came || v.Open && step != schedule.StepInvitation || step == schedule.StepNudge && held[v.VisitID] {
				t.Errorf("%s came on %s, open %v, held back %v: %s on %s", v.VisitID, v.Came, v.Open, held[v.VisitID], step, on)
			}
		}
	}
	if counts[schedule.StepInvitation] < 200 || counts[schedule.StepNudge] < 50 || counts[schedule.StepLastCall] < 20 || len(w.Notes) < 80 || len(lots) < 30 {
		t.Errorf("%v, %d answers, lots of %d customers: too little to show anything", counts, len(w.Notes), len(lots))
	}
	for _, h := range demo.Write(source(3), visits, day-30).Notified {
		if h.On > day-30 {
			t.Errorf("a letter of %s was written by %s", h.On, day-30)
		}
	}
}

package app_test

import (
	"strings"
	"testing"
	"time"

	"bellbuoy/notify/feed"
	"bellbuoy/notify/link"
	"bellbuoy/schedule/words"
	"bellbuoy/store/storetest"
)

// TestACalendarSpeaksItsOwnersLanguage: a customer who reads French from now on has
// their events written again, each with a higher SEQUENCE; the desk's calendar has
// the same visit in English, and nothing else moves.
func TestACalendarSpeaksItsOwnersLanguage(t *testing.T) {
	p := newPost(t, "")
	v, c := p.firstVisit()
	today, uid := p.day(), feed.UID(p.Config.Host(), v.ID)
	desk := func() map[string]string {
		t.Helper()
		f, err := p.Feed(t.Context(), link.ScopeDesk, "", today)
		if err != nil {
			t.Fatal(err)
		}
		return blocks(t, f.Body)
	}
	was, deskWas := blocks(t, feedOf(t, p.App, c.ID, today)), desk()
	c.Language = words.French
	later := p.now.Add(time.Hour)
	if err := storetest.SaveCustomer(t.Context(), p.Writer(), later, "test", c); err != nil {
		t.Fatal(err)
	}
	if _, err := p.Settle(t.Context(), later, today, nil); err != nil {
		t.Fatal(err)
	}
	body := feedOf(t, p.App, c.ID, today)
	is, deskIs := blocks(t, body), desk()
	if !strings.Contains(string(body), "Entretien de bateau") || len(is) != len(was) {
		t.Errorf("%d events, want %d, in a calendar named\n%.400s", len(is), len(was), body)
	}
	for id, block := range is {
		plain := strings.ReplaceAll(block, "\r\n ", "")
		for _, english := range []string{"not booked", "Planned", "Winterization", "Spring commissioning", " the ", " is "} {
			if strings.Contains(plain, english) {
				t.Errorf("%q in\n%s", english, plain)
			}
		}
		if stamp(t, "SEQUENCE", block) <= stamp(t, "SEQUENCE", was[id]) {
			t.Errorf("SEQUENCE of %s did not rise", id)
		}
	}
	if plain := strings.ReplaceAll(is[uid], "\r\n ", ""); !strings.Contains(plain, "Hivernage") && !strings.Contains(plain, "printanière") {
		t.Errorf("the visit is\n%s", plain)
	}
	mine := 0
	for id, block := range deskIs {
		plain := strings.ReplaceAll(block, "\r\n ", "")
		if _, of := is[id]; of {
			mine++
			if strings.Contains(plain, "Hivernage") || strings.Contains(plain, "printanière") || strings.Contains(plain, "Prévu") || strings.Contains(plain, "\r\nURL") {
				t.Errorf("the desk reads\n%s", plain)
			}
		} else if block != deskWas[id] {
			t.Errorf("an event of somebody else was\n%s\nand is\n%s", deskWas[id], block)
		}
	}
	if mine == 0 || deskIs[uid] == "" {
		t.Errorf("%d of the customer's events at the desk", mine)
	}
}

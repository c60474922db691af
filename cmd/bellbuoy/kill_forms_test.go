package main

import (
	"context"
	"database/sql"
	"fmt"
	"io"
	"net/http"
	"net/http/cookiejar"
	"net/url"
	"path/filepath"
	"strings"
	"sync"
	"sync/atomic"
	"testing"

	"bellbuoy/schedule/civil"
)

// formPoster posts the forms of the desk and of customers to a daemon as long as it
// lives, and keeps what was answered.
type formPoster struct {
	client http.Client
	pages  map[string]string // of a boat's owner, by boat
	number atomic.Int64      // of a form, over all daemons

	mu      sync.Mutex
	visits  map[string][]visitOnFile // by what is posted of them, before the daemon was started
	facts   []postedFact
	checked int            // of them, after earlier kills
	count   map[string]int // of answered forms, by kind, and by code where they were not taken
}

// visitOnFile is a visit and the day and time for which it is booked, "" if it is not.
type visitOnFile struct{ id, boat, was string }

// postedFact is what an answered form has left on file: exactly one row of a query.
type postedFact struct {
	what    string
	lasting bool // in a season nobody moves it and nothing is done with it
	query   string
	args    []any
}

// The forms that are posted.
const (
	formJob     = "job"
	formRecord  = "record"
	formBooking = "booking"
	formTake    = "day taken by a customer"
	formCall    = "call asked for"
)

// What a customer's note is found by; a number may stand before it.
const notedAnswer = "FROM answers WHERE (note = ?1 OR note LIKE '%. ' || ?1)"

func newFormPoster(t *testing.T, s *testShop) *formPoster {
	t.Helper()
	jar, err := cookiejar.New(nil)
	if err != nil {
		t.Fatal(err)
	}
	f := &formPoster{pages: map[string]string{}, count: map[string]int{}, client: http.Client{
		Jar: jar, CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse },
	}}
	h := s.open(t)
	defer h.Close()
	boats, err := h.DB.Boats(t.Context(), "", 1000)
	if err != nil {
		t.Fatal(err)
	}
	for _, b := range boats {
		owner, err := h.OwnerOf(t.Context(), b.ID)
		if err != nil {
			t.Fatal(err)
		}
		page, err := h.MyURL(t.Context(), owner.ID)
		if err != nil {
			t.Fatal(err)
		}
		f.pages[b.ID] = strings.TrimPrefix(page, h.Config.Shop.URL)
	}
	return f
}

// post has two people post forms to a daemon, one at the desk and one as the
// customers, until it is gone or stop is called, which waits for both. answered is
// told how many forms it has answered.
func (f *formPoster) post(t *testing.T, s *testShop, d *served, answered func(n int)) (stop func()) {
	t.Helper()
	today, err := civil.Parse(s.today)
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(t.Context())
	var people sync.WaitGroup
	var n atomic.Int32
	for _, kinds := range [][]string{{formJob, formBooking, formRecord}, {formTake, formCall}} {
		people.Go(func() {
			if kinds[0] == formJob { // Inge, whose session has ended if it is another day
				if _, err := f.send(ctx, d.base+"/sign-in", url.Values{"name": {"Inge"}, "password": {password}}); err != nil {
					return
				}
			}
			for i := 0; ctx.Err() == nil; i++ {
				taken, err := f.one(ctx, d.base, kinds[i%len(kinds)], today)
				if err != nil {
					return
				}
				if taken {
					answered(int(n.Add(1)))
				}
			}
		})
	}
	return func() {
		cancel()
		people.Wait()
	}
}

// one posts one form and reports whether it was taken; an error says that there was
// no whole answer.
func (f *formPoster) one(ctx context.Context, base, kind string, today civil.Day) (taken bool, err error) {
	path, form, facts := f.fill(kind, today)
	if path == "" {
		return false, nil
	}
	code, err := f.send(ctx, base+path, form)
	if err != nil {
		return false, err
	}
	f.mu.Lock()
	defer f.mu.Unlock()
	if code != http.StatusSeeOther { // not taken
		f.count[fmt.Sprintf("%s, %d", kind, code)]++
		return false, nil
	}
	f.facts = append(f.facts, facts...)
	f.count[kind]++
	return true, nil
}

// fill is a form and what it leaves on file. Boats whose number is 1 modulo 3 get jobs
// and records, those with 2 are booked by the desk, the others by their owners; each
// visit once before the next kill. There is no path if no visit is left.
func (f *formPoster) fill(kind string, today civil.Day) (path string, form url.Values, facts []postedFact) {
	n := int(f.number.Add(1))
	word := fmt.Sprintf("Form number %d", n)
	boat := fmt.Sprintf("B%05d", 1+3*(n%50))
	day := today + civil.Day(8+n%30)
	for !sends(day) {
		day++
	}
	form = url.Values{"form": {fmt.Sprint("form", n)}, "sure": {"yes"}, "day": {today.String()}, "note": {word}}
	fill := func(more url.Values) url.Values {
		for name, value := range more {
			form[name] = value
		}
		return form
	}
	switch kind {
	case formJob:
		return "/boats/" + boat + "/job", fill(url.Values{"words": {word}, "minutes": {"30"}}),
			[]postedFact{{word + ", a job", true, "SELECT count(*) FROM follow_ups WHERE title = ?", []any{word}}}
	case formRecord:
		return "/boats/" + boat + "/record", fill(url.Values{"free0": {"hull-check"}}),
			[]postedFact{{word + ", a record", true, "SELECT count(*) FROM records WHERE note = ?", []any{word}}}
	case formCall:
		boat = fmt.Sprintf("B%05d", 3+3*(n%50))
		return f.pages[boat] + "/answer", fill(url.Values{"kind": {"call"}, "boat": {boat}, "number": {"555-0100-22"}}),
			[]postedFact{{word + ", a call", true, "SELECT count(*) " + notedAnswer, []any{word}}}
	}
	f.mu.Lock()
	defer f.mu.Unlock()
	left := f.visits[kind]
	if len(left) == 0 {
		return "", nil, nil
	}
	v := left[0]
	f.visits[kind] = left[1:]
	if kind == formBooking {
		return "/boats/" + v.boat + "/book", fill(url.Values{"visit": {v.id}, "was": {v.was}, "do": {"book"}, "day": {day.String()}, "over": {"yes"}}),
			[]postedFact{{fmt.Sprintf("%s, %s booked for %s", word, v.id, day), false, "SELECT count(*) FROM bookings WHERE visit_id = ? AND day = ?", []any{v.id, day.String()}}}
	}
	return f.pages[v.boat] + "/answer", fill(url.Values{"visit": {v.id}, "was": {v.was}, "kind": {"near"}, "near": {day.String()}}), []postedFact{
		{word + ", a day taken", true, "SELECT count(*) " + notedAnswer, []any{word}},
		{fmt.Sprintf("%s, %s booked by the customer", word, v.id), false, "SELECT count(*) FROM bookings WHERE visit_id = ?", []any{v.id}},
	}
}

// send posts a form and returns the code of a whole answer, 303 for a form that was taken.
func (f *formPoster) send(ctx context.Context, address string, form url.Values) (code int, err error) {
	req, err := http.NewRequestWithContext(ctx, http.MethodPost, address, strings.NewReader(form.Encode()))
	if err != nil {
		return 0, err
	}
	req.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	req.Header.Set("Sec-Fetch-Site", "same-origin")
	resp, err := f.client.Do(req)
	if err != nil {
		return 0, err
	}
	defer resp.Body.Close()
	if _, err := io.Copy(io.Discard, resp.Body); err != nil {
		return 0, err
	}
	return resp.StatusCode, nil
}

// check asks by plain SQL that the shop's file is whole and holds what was answered
// since the last check, or everything lasting that ever was. Then it reads which
// visits can be booked next.
func (f *formPoster) check(t *testing.T, s *testShop, ever bool) {
	t.Helper()
	db, err := sql.Open("sqlite", "file:"+filepath.Join(s.dir, "bellbuoy.db"))
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	var sound string
	if err := db.QueryRowContext(t.Context(), "PRAGMA quick_check").Scan(&sound); err != nil || sound != "ok" {
		t.Errorf("the file is not whole: %s, %v", sound, err)
	}
	f.mu.Lock()
	defer f.mu.Unlock()
	from := f.checked
	if ever {
		from = 0
	}
	for _, p := range f.facts[from:] {
		if ever && !p.lasting {
			continue
		}
		n := 0
		if err := db.QueryRowContext(t.Context(), p.query, p.args...).Scan(&n); err != nil || n != 1 {
			t.Errorf("%s, was answered and is on file %d times: %v", p.what, n, err)
		}
	}
	f.checked = len(f.facts)
	f.readVisits(t, db, s.today)
}

// readVisits reads the visits that can be booked, one for a boat, with those that wait
// longest for a day first; a booked day that has passed is the shop's own affair.
func (f *formPoster) readVisits(t *testing.T, db *sql.DB, today string) {
	t.Helper()
	rows, err := db.QueryContext(t.Context(), `SELECT v.id, v.boat_id, coalesce(b.day || CASE WHEN b.minute >= 0 THEN printf(' %02d:%02d', b.minute / 60, b.minute % 60) ELSE '' END, '')
		FROM visits v LEFT JOIN bookings b ON b.visit_id = v.id
		WHERE v.kind = 'fit-out' AND coalesce(b.day, '9') > date(?, '+4 days') GROUP BY v.boat_id HAVING v.day = min(v.day) ORDER BY b.day IS NOT NULL, v.day, v.id`, today)
	if err != nil {
		t.Fatal(err)
	}
	defer rows.Close()
	f.visits = map[string][]visitOnFile{}
	for rows.Next() {
		var v visitOnFile
		if err := rows.Scan(&v.id, &v.boat, &v.was); err != nil {
			t.Fatal(err)
		}
		var n int
		if _, err := fmt.Sscanf(v.boat, "B%d", &n); err != nil {
			t.Fatal(v.boat, err)
		}
		switch n % 3 {
		case 2:
			f.visits[formBooking] = append(f.visits[formBooking], v)
		case 0:
			f.visits[formTake] = append(f.visits[formTake], v)
		}
	}
	if err := rows.Err(); err != nil {
		t.Fatal(err)
	}
}

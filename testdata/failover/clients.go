package main

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"net"
	"net/http"
	"net/http/cookiejar"
	"net/url"
	"strings"
	"sync"
	"time"

	_ "modernc.org/sqlite"
)

const password = "anchor chain and shackle"

// saved is a form that was answered as saved.
type saved struct {
	shop, words string
	at          time.Time
}

// clients post the desk's forms to every shop, one after the other and without end:
// jobs with words of their own, and bookings that are moved again and again.
type clients struct {
	proxy string
	file  func(shop string) string // the database that serves it now
	mu    sync.Mutex
	saved []saved
	codes map[string]int
	ended sync.WaitGroup
}

// via asks the proxy whatever host a request names.
func via(proxy string, timeout time.Duration) *http.Client {
	jar, _ := cookiejar.New(nil) // never fails without options
	return &http.Client{Timeout: timeout, Jar: jar,
		Transport: &http.Transport{DialContext: func(ctx context.Context, network, _ string) (net.Conn, error) {
			return new(net.Dialer).DialContext(ctx, network, proxy)
		}},
		CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse },
	}
}

func (c *clients) start(ctx context.Context) {
	c.codes = map[string]int{}
	for _, shop := range shops {
		c.ended.Go(func() { c.desk(ctx, shop) })
	}
}

func (c *clients) desk(ctx context.Context, shop string) {
	client, signedIn := via(c.proxy, 10*time.Second), false
	var visits []visit
	for n := 0; ctx.Err() == nil; n++ {
		time.Sleep(time.Duration(150+rand.IntN(300)) * time.Millisecond)
		if !signedIn {
			code, to := post1(ctx, client, shop, "/sign-in", url.Values{"name": {"Inge"}, "password": {password}})
			signedIn = code == http.StatusSeeOther && !strings.HasPrefix(to, "/sign-in")
			continue
		}
		words := fmt.Sprintf("Job %d of %s", n, shop)
		path, form := fmt.Sprintf("/boats/B%05d/job", 1+n%30), url.Values{"form": {fmt.Sprint(shop, n)}, "words": {words}, "minutes": {"30"}, "sure": {"yes"}, "day": {time.Now().Format(time.DateOnly)}, "note": {words}}
		if n%8 == 7 {
			if len(visits) == 0 {
				visits = c.visits(shop)
			}
			if len(visits) == 0 {
				continue
			}
			v := visits[0]
			visits = visits[1:]
			day := time.Now().UTC().AddDate(0, 0, 14+rand.IntN(20))
			for day.Weekday() == time.Sunday || day.Weekday() == time.Saturday {
				day = day.AddDate(0, 0, 1)
			}
			words, path = "", "/boats/"+v.boat+"/book"
			form = url.Values{"form": {fmt.Sprint(shop, n)}, "visit": {v.id}, "was": {v.was}, "do": {"book"}, "day": {day.Format(time.DateOnly)}, "over": {"yes"}, "sure": {"yes"}}
		}
		code, to := post1(ctx, client, shop, path, form)
		done := code == http.StatusSeeOther && !strings.HasPrefix(to, "/sign-in")
		signedIn = signedIn && !strings.HasPrefix(to, "/sign-in")
		c.mu.Lock()
		c.codes[fmt.Sprintf("%s %d", strings.TrimPrefix(path[strings.LastIndexByte(path, '/'):], "/"), code)]++
		if done && words != "" {
			c.saved = append(c.saved, saved{shop, words, time.Now()})
		}
		c.mu.Unlock()
	}
}

// post1 posts a form; code 0 if there was no whole answer.
func post1(ctx context.Context, client *http.Client, shop, path string, form url.Values) (code int, location string) {
	req, err := http.NewRequestWithContext(ctx, http.MethodPost, "http://"+shop+".example"+path, strings.NewReader(form.Encode()))
	if err != nil {
		return 0, ""
	}
	req.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	req.Header.Set("Sec-Fetch-Site", "same-origin")
	r, err := client.Do(req)
	if err != nil {
		return 0, ""
	}
	defer r.Body.Close()
	if _, err := io.Copy(io.Discard, r.Body); err != nil {
		return 0, ""
	}
	return r.StatusCode, r.Header.Get("Location")
}

type visit struct{ id, boat, was string }

// visits are those that can be booked or moved, one for a boat. Most boats are left to
// the reminders, which a booking ends.
func (c *clients) visits(shop string) (all []visit) {
	c.mu.Lock()
	file := c.file(shop)
	c.mu.Unlock()
	query(file, func(r *sql.Rows) error {
		var v visit
		err := r.Scan(&v.id, &v.boat, &v.was)
		all = append(all, v)
		return err
	}, `SELECT v.id, v.boat_id, coalesce(b.day || CASE WHEN b.minute >= 0 THEN printf(' %02d:%02d', b.minute / 60, b.minute % 60) ELSE '' END, '')
		FROM visits v LEFT JOIN bookings b ON b.visit_id = v.id WHERE v.kind = 'fit-out' AND v.boat_id IN ('B00002', 'B00003', 'B00004', 'B00005', 'B00009', 'B00010') GROUP BY v.boat_id HAVING v.day = min(v.day)`)
	return all
}

func change(file, statement string) error {
	db, err := sql.Open("sqlite", "file:"+file)
	if err != nil {
		return err
	}
	_, err = db.Exec(statement)
	return errors.Join(err, db.Close())
}

// query reads rows of a database that a daemon may have open.
func query(file string, row func(*sql.Rows) error, text string) error {
	db, err := sql.Open("sqlite", "file:"+file+"?mode=ro&_pragma=busy_timeout(5000)")
	if err != nil {
		return err
	}
	defer db.Close()
	rows, err := db.Query(text)
	if err != nil {
		return err
	}
	defer rows.Close()
	for rows.Next() {
		if err := row(rows); err != nil {
			return err
		}
	}
	return rows.Err()
}

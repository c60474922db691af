// Package weather fetches forecasts from a weather service and keeps to the terms
// that such services set: it says who calls, asks whether something changed, asks
// again no sooner than the answer expires and at most once an hour, not all at
// the full hour, and leaves a service alone that says so. It decides only when a
// place is asked again; what a forecast means is package watch's. It reads no
// files and stores nothing: the caller keeps the [State] between calls.
package weather

import (
	"context"
	"errors"
	"fmt"
	"io"
	"net/http"
	"strconv"
	"time"

	"bellbuoy/schedule/climate/watch"
)

// How often a service is asked at the most, by how much that is spread so that
// not every shop asks at the same moment, and how long a call may take.
const (
	Hourly  = time.Hour
	spread  = 10 * time.Minute
	timeout = 20 * time.Second
	// blocked is for how long a service that refused us is left alone.
	blocked = 24 * time.Hour
	// longestWait is as long as an answer's own Expires or Retry-After is believed.
	longestWait = 24 * time.Hour
)

// State is what is known of a place's forecast between two calls.
type State struct {
	LastModified string    // of the answer that is kept, for the next question
	Next         time.Time // not to be asked before
	Failures     int       // since the last answer
}

// Answer is what a call brought.
type Answer struct {
	Forecast *watch.Forecast // nil if nothing changed
	State    State
}

// Client asks weather services.
type Client struct {
	Agent  string         // "Bellbuoy/1.0 (service@example.com)"
	HTTP   *http.Client   // nil for the usual one
	Jitter func() float64 // from 0 to below 1
}

// Fetch asks for the forecast at an address. Beside an error the state says when
// to ask again; the forecast that was kept stays as it is.
func (c *Client) Fetch(ctx context.Context, address string, st State, now time.Time) (Answer, error) {
	ctx, cancel := context.WithTimeout(ctx, timeout)
	defer cancel()
	resp, err := c.ask(ctx, address, st)
	if err != nil {
		return c.failed(st, now, 0), fmt.Errorf("no answer from the weather service: %w", err)
	}
	defer resp.Body.Close() // only read
	wait := c.patience(resp.Header, now)
	switch resp.StatusCode {
	case http.StatusOK:
	case http.StatusNotModified:
		return Answer{State: State{LastModified: st.LastModified, Next: c.next(now, wait)}}, nil
	case http.StatusForbidden, http.StatusUnauthorized:
		return c.failed(st, now, blocked), fmt.Errorf("the weather service refuses us (%s): it wants a public email address of the shop in shop.email, or has blocked it; asked again after a day", resp.Status)
	default:
		return c.failed(st, now, wait), fmt.Errorf("the weather service answers %s", resp.Status)
	}
	body, err := io.ReadAll(io.LimitReader(resp.Body, watch.MaxBytes+1))
	if err != nil {
		return c.failed(st, now, 0), fmt.Errorf("the weather service's answer was cut off: %w", err)
	}
	f, err := watch.Parse(body)
	if err != nil {
		return c.failed(st, now, wait), fmt.Errorf("the weather service's answer makes no sense: %w", err)
	}
	return Answer{f, State{LastModified: resp.Header.Get("Last-Modified"), Next: c.next(now, wait)}}, nil
}

func (c *Client) ask(ctx context.Context, address string, st State) (*http.Response, error) {
	req, err := http.NewRequestWithContext(ctx, http.MethodGet, address, nil)
	if err != nil {
		return nil, err
	}
	req.Header.Set("User-Agent", c.Agent)
	req.Header.Set("Accept", "application/geo+json, application/json")
	if st.LastModified != "" {
		req.Header.Set("If-Modified-Since", st.LastModified)
	}
	client := c.HTTP
	if client == nil {
		client = &http.Client{CheckRedirect: sameScheme}
	}
	return client.Do(req)
}

// sameScheme follows a few redirections, none from https to plain http.
func sameScheme(req *http.Request, via []*http.Request) error {
	if len(via) > 3 || via[0].URL.Scheme != req.URL.Scheme {
		return errors.New("the weather service sends us elsewhere: check the address in the settings")
	}
	return nil
}

// patience is for how long an answer asks to be left alone: until it expires, or
// for its Retry-After.
func (c *Client) patience(h http.Header, now time.Time) time.Duration {
	var wait time.Duration
	if t, err := http.ParseTime(h.Get("Expires")); err == nil {
		wait = t.Sub(now)
	}
	if s := h.Get("Retry-After"); s != "" {
		if n, err := strconv.Atoi(s); err == nil {
			wait = max(wait, time.Duration(min(n, int(longestWait/time.Second)))*time.Second)
		} else if t, err := http.ParseTime(s); err == nil {
			wait = max(wait, t.Sub(now))
		}
	}
	return min(wait, longestWait)
}

// next is when to ask again: an hour or more from now, and a random while.
func (c *Client) next(now time.Time, wait time.Duration) time.Time {
	return now.Add(max(Hourly, wait) + time.Duration(c.Jitter()*float64(spread)))
}

// failed waits longer with each failure: an hour, two, four, at most a day.
func (c *Client) failed(st State, now time.Time, wait time.Duration) Answer {
	backOff := min(Hourly<<min(st.Failures, 10), longestWait)
	return Answer{State: State{LastModified: st.LastModified, Next: c.next(now, max(wait, backOff)), Failures: st.Failures + 1}}
}

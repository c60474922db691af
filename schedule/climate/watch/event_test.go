package watch_test

import (
	"testing"
	"time"

	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/climate/watch"
)

// Wednesday, October 7, 2026.
var (
	wednesday = civil.Of(2026, 10, 7)
	noon      = time.Date(2026, 10, 7, 12, 0, 0, 0, time.UTC)
)

func alarm(day int, low float64) *watch.Verdict {
	return &watch.Verdict{Night: watch.Night{To: civil.Of(2026, 10, day), Known: true}, Level: watch.Alarm, YardLow: low, Chance: 0.5}
}

func TestAFreezeOfTheRunningWeekBringsNothingForward(t *testing.T) {
	for day, brings := range map[int]civil.Day{
		10: 0,                      // the night to Saturday: work ends on Friday
		12: 0,                      // the night to Monday: its last day is Sunday
		13: civil.Of(2026, 10, 13), // the night to Tuesday: Monday is another week
		17: civil.Of(2026, 10, 17),
	} {
		var e watch.Event
		if said := e.Raise(alarm(day, -4), wednesday, noon); said != watch.Raised || e.Brings != brings || e.Low != -40 {
			t.Errorf("night to the %d: %q, %+v", day, said, e)
		}
	}
}

func TestAnEventGrowsAndKeepsWhatItBrought(t *testing.T) {
	var e watch.Event
	e.Raise(alarm(15, -3), wednesday, noon)
	steps := []struct {
		day    int
		low    float64
		said   string
		run    watch.Run
		brings int
	}{
		{15, -2.5, "", watch.Run{First: civil.Of(2026, 10, 15), Last: civil.Of(2026, 10, 15)}, 15},
		{16, -5, watch.Changed, watch.Run{First: civil.Of(2026, 10, 15), Last: civil.Of(2026, 10, 16)}, 15},
		{13, -3, watch.Changed, watch.Run{First: civil.Of(2026, 10, 13), Last: civil.Of(2026, 10, 16)}, 13},
		// One in the running week: the event begins sooner, what is leveled stays.
		{11, -3, watch.Changed, watch.Run{First: civil.Of(2026, 10, 11), Last: civil.Of(2026, 10, 16)}, 13},
	}
	for _, s := range steps {
		if said := e.Raise(alarm(s.day, s.low), wednesday, noon); said != s.said || e.Run != s.run || e.Brings != civil.Of(2026, 10, s.day) && e.Brings != civil.Of(2026, 10, s.brings) {
			t.Errorf("%d: %q, %+v", s.day, said, e)
		}
	}
	if e.Low != -50 || e.Brings != civil.Of(2026, 10, 13) {
		t.Errorf("%+v", e)
	}
}

func TestTwoForecastsInARowRelent(t *testing.T) {
	quiet := func(days ...int) (out []watch.Verdict) {
		for _, d := range days {
			out = append(out, watch.Verdict{Night: watch.Night{To: civil.Of(2026, 10, d), Known: true}})
		}
		return out
	}
	var e watch.Event
	e.Raise(alarm(14, -3), wednesday, noon)
	e.Raise(alarm(15, -3), wednesday, noon)
	if e.Relent(quiet(13, 14, 15), wednesday, noon) || e.Calm != 1 {
		t.Errorf("off after one: %+v", e)
	}
	e.Raise(alarm(15, -3), wednesday, noon)
	if e.Calm != 0 {
		t.Errorf("an alarm between does not count: %+v", e)
	}
	e.Relent(quiet(14, 15), wednesday, noon)
	if e.Relent(quiet(13, 14), wednesday, noon) || e.Calm != 1 {
		t.Errorf("a forecast that ends before the last night counts: %+v", e)
	}
	if !e.Relent(quiet(14, 15), wednesday, noon) || e.Ended != watch.Relented {
		t.Errorf("%+v", e)
	}
	if said := e.Raise(alarm(15, -3), wednesday, noon); said != watch.Again || e.Ended != watch.Open || e.Brings != civil.Of(2026, 10, 15) {
		t.Errorf("%q, %+v", said, e)
	}
}

func TestPass(t *testing.T) {
	var e watch.Event
	e.Raise(alarm(10, -3), wednesday, noon)
	if e.Pass(civil.Of(2026, 10, 10), noon) || !e.Pass(civil.Of(2026, 10, 11), noon) || e.Ended != watch.Passed || e.Pass(civil.Of(2026, 10, 12), noon) {
		t.Errorf("%+v", e)
	}
}

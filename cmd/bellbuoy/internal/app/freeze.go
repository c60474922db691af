package app

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"math/rand/v2"
	"os"
	"runtime/debug"
	"slices"
	"time"

	"bellbuoy/cmd/bellbuoy/internal/config"
	"bellbuoy/cmd/bellbuoy/internal/weather"
	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/climate/watch"
	"bellbuoy/store/freeze"
)

const (
	// freezeNights is how many nights the watch looks at, the one that is ending too: beyond, the error of
	// a forecast is larger than what it says.
	freezeNights = 8
	// forecastTooOld is the age from which a forecast raises no alarm.
	forecastTooOld = 24 * time.Hour
	// jobFreeze names the job of telling who is at risk, done every tellEvery.
	jobFreeze = "freeze"
	tellEvery = 10 * time.Minute
)

// freezeTick is the freeze watch's part of a turn: weather services are asked
// beside it, so that a slow one keeps nothing waiting; what came by then is judged,
// and who is to hear of it is told.
func (a *App) freezeTick(ctx context.Context, at time.Time, log *slog.Logger) error {
	fileErr := a.fetchForecasts(ctx, at, func(src config.ForecastSource) bool { return src.File != "" })
	if a.asking.TryLock() {
		go func() {
			defer a.asking.Unlock()
			if err := a.fetchForecasts(ctx, at, func(src config.ForecastSource) bool { return src.File == "" }); err != nil && ctx.Err() == nil {
				log.WarnContext(ctx, "ask for the forecast; what is known stays", "error", err)
			}
		}()
	}
	if fileErr != nil {
		log.WarnContext(ctx, "read the forecast; what is known stays", "error", fileErr)
	}
	if err := a.JudgeForecasts(ctx, at); err != nil {
		return err
	}
	return a.OncePer(ctx, jobFreeze, at.UTC().Truncate(tellEvery).Format(time.RFC3339), at, func() error {
		n, err := a.TellOfFreeze(ctx, at)
		if n > 0 {
			log.InfoContext(ctx, "queued freeze emails", "emails", n)
		}
		return err
	})
}

// fetchForecasts reads the forecast of every place whose settings name a source among
// some and that may be asked again. What goes wrong is kept beside the forecast that is
// known, and returned.
func (a *App) fetchForecasts(ctx context.Context, now time.Time, among func(config.ForecastSource) bool) error {
	known, err := freeze.Forecasts(ctx, a.DB)
	if err != nil {
		return err
	}
	var faults []error
	for i := range a.Config.Places {
		p := &a.Config.Places[i]
		if p.Forecast == "" {
			continue
		}
		src, err := a.Config.ForecastSource(p) // the settings have checked it
		if err != nil || !among(src) {
			continue
		}
		st := known[p.Name]
		if st.Source != p.Forecast {
			st = freeze.Forecast{Place: p.Name, Source: p.Forecast}
		}
		if now.Before(st.Next) && st.Next.Sub(now) < 2*forecastTooOld { // further off, it was written while the clock was ahead
			continue
		}
		before := st
		st.FetchedAt, st.Fault = now, ""
		if err := a.fetchForecast(ctx, src, &st, now); err != nil {
			st.FetchedAt, st.Forecast, st.Fault = time.Time{}, nil, err.Error()
			faults = append(faults, fmt.Errorf("%s: %w", p.Name, err))
		}
		if src.File != "" && sameForecast(&before, &st) && now.Sub(before.FetchedAt) < time.Hour {
			continue // a file is looked at with every turn; what it says is written down when it is new
		}
		if err := freeze.SaveForecast(context.WithoutCancel(ctx), a.db, st); err != nil {
			faults = append(faults, err)
		}
	}
	return errors.Join(faults...)
}

// sameForecast reports whether an asking brought nothing new.
func sameForecast(before, after *freeze.Forecast) bool {
	return before.Forecast != nil && after.Forecast != nil && before.Forecast.Issued.Equal(after.Forecast.Issued) && before.Fault == after.Fault
}

// fetchForecast reads one, from its file or its address. A nil forecast is an
// unchanged one.
func (a *App) fetchForecast(ctx context.Context, src config.ForecastSource, st *freeze.Forecast, now time.Time) (err error) {
	if src.File != "" {
		st.Forecast, err = ReadForecast(src.File)
		return err
	}
	client := weather.Client{Agent: fmt.Sprintf("Bellbuoy/%s (%s)", version(), a.Config.Shop.Email), Jitter: rand.Float64}
	answer, err := client.Fetch(ctx, src.Address, weather.State{LastModified: st.LastModified, Next: st.Next, Failures: st.Failures}, now)
	st.Forecast, st.LastModified, st.Next, st.Failures = answer.Forecast, answer.State.LastModified, answer.State.Next, answer.State.Failures
	return err
}

// ReadForecast reads a forecast from a file.
func ReadForecast(path string) (*watch.Forecast, error) {
	file, err := os.Open(path)
	if err != nil {
		return nil, fmt.Errorf("forecast: %w", err)
	}
	defer file.Close() // only read
	var body bytes.Buffer
	if _, err := io.Copy(&body, io.LimitReader(file, watch.MaxBytes+1)); err != nil {
		return nil, fmt.Errorf("forecast: %w", err)
	}
	f, err := watch.Parse(body.Bytes())
	if err != nil {
		return nil, fmt.Errorf("%s: %w", path, err)
	}
	return f, nil
}

// version is the program's, as it was built.
func version() string {
	if info, ok := debug.ReadBuildInfo(); ok && info.Main.Version != "" && info.Main.Version != "(devel)" {
		return info.Main.Version
	}
	return "devel"
}

// JudgeForecasts takes what forecasts say into the alarms that stand, ends those
// whose nights are over, and has boats planned again whose deadline that moves.
func (a *App) JudgeForecasts(ctx context.Context, now time.Time) error {
	today := a.Day(now)
	all, err := freeze.Events(ctx, a.DB, today-watch.Apart)
	if err != nil {
		return err
	}
	known, err := freeze.Forecasts(ctx, a.DB)
	if err != nil {
		return err
	}
	moved := false
	for _, place := range a.Config.PlaceNames() {
		var events []freeze.Event
		for _, e := range all {
			if e.Place == place {
				events = append(events, e)
			}
		}
		f := known[place]
		j := a.judge(place, &f, events, now)
		if len(j.Nights)+len(j.Events) == 0 && j.Issued.IsZero() {
			continue
		}
		if err := freeze.SaveJudgement(ctx, a.db, now, "bellbuoy", j); err != nil {
			return err
		}
		moved = moved || len(j.History) > 0
	}
	if !moved {
		return nil
	}
	_, err = a.Settle(ctx, now, today, nil)
	return err
}

// judge is what a place's forecast comes to. A forecast is judged once; one that
// is too old, or from the future, only ends what is over.
func (a *App) judge(place string, f *freeze.Forecast, events []freeze.Event, now time.Time) freeze.Judgement {
	today := a.Day(now)
	j := freeze.Judgement{Place: place}
	note := func(e *freeze.Event, said string) {
		if said != "" {
			j.History = append(j.History, freeze.Change{What: said, Event: *e})
		}
	}
	changed := make([]bool, len(events))
	for i := range events {
		if changed[i] = events[i].Pass(today, now); changed[i] {
			note(&events[i], watch.Over)
		}
	}
	if f.Forecast != nil && f.Forecast.Issued.After(f.Judged) && fresh(f.Forecast, now) {
		j.Issued = f.Forecast.Issued
		nights := a.verdicts(place, f.Forecast, now)
		alarmed := make(map[int]bool)
		for k := range nights {
			v := &nights[k]
			if v.Known && f.Forecast.Issued.Before(v.To.At(0, 0, a.Config.Zone())) {
				j.Nights = append(j.Nights, freeze.Night{Place: place, Night: v.To, Issued: j.Issued, Lead: v.Lead, Low: v.YardLow, Hours: v.HardHours, Chance: v.Chance, Level: v.Level})
			}
			if v.Level != watch.Alarm || v.To < today {
				continue
			}
			i := slices.IndexFunc(events, func(e freeze.Event) bool { return e.Run.Takes(v.To) })
			if i < 0 {
				i, events, changed = len(events), append(events, freeze.Event{Place: place}), append(changed, false)
			}
			said := events[i].Raise(v, today, now)
			changed[i], alarmed[i] = true, true
			note(&events[i], said)
		}
		for i := range events {
			if alarmed[i] || events[i].Ended != watch.Open {
				continue
			}
			changed[i] = true
			if events[i].Relent(nights, today, now) {
				note(&events[i], watch.CalledIn)
			}
		}
	}
	for i := range events {
		if changed[i] {
			j.Events = append(j.Events, events[i])
		}
	}
	return j
}

// fresh reports whether a forecast may raise an alarm. One from the future is
// of a clock that is wrong.
func fresh(f *watch.Forecast, now time.Time) bool {
	age := f.Age(now)
	return age <= forecastTooOld && age > -time.Hour
}

func (a *App) verdicts(place string, f *watch.Forecast, now time.Time) []watch.Verdict {
	limits := a.Config.Limits(place)
	var out []watch.Verdict
	for _, n := range f.Nights(now, a.Config.Zone(), freezeNights) {
		out = append(out, limits.Judge(n))
	}
	return out
}

// addFreezes puts the freezes that bear on the plan into the places: one that is
// forecast for a later week, and the first of the newest season that came after
// an alarm, unless the station's record says that it did not come.
func (a *App) addFreezes(ctx context.Context, places Places) error {
	all, err := freeze.Events(ctx, a.DB, 0)
	if err != nil {
		return err
	}
	for _, e := range all {
		pl, ok := places[e.Place]
		if !ok {
			continue
		}
		fr := schedule.Freeze{Night: e.Run.First, Tenths: e.Low}
		switch {
		case e.Ended == watch.Open && e.Brings != 0 && (pl.Freeze.Night == 0 || e.Brings < pl.Freeze.Night):
			pl.Freeze = schedule.Freeze{Night: e.Brings, Tenths: e.Low}
		case e.Ended == watch.Passed && (pl.StoodOut.Night == 0 || schedule.LayUpSeason(pl.StoodOut.Night) < schedule.LayUpSeason(fr.Night)):
			came, err := a.came(ctx, &e)
			if err != nil {
				return err
			}
			if came {
				pl.StoodOut = fr
			}
		}
		places[e.Place] = pl
	}
	return nil
}

// freezeBrings reports whether an alarm that stands brings deadlines forward.
func (a *App) freezeBrings(ctx context.Context, today civil.Day) (bool, error) {
	all, err := freeze.Events(ctx, a.DB, today)
	return slices.ContainsFunc(all, func(e freeze.Event) bool { return e.Ended == watch.Open && e.Brings != 0 }), err
}

// came reports whether a freeze came, as far as is known: a station's record of
// all its nights that has none at or below the alarm's threshold says no.
func (a *App) came(ctx context.Context, e *freeze.Event) (bool, error) {
	lows, err := freeze.StationLows(ctx, a.DB, e.Place, e.Run.First, e.Run.Last)
	if err != nil {
		return false, err
	}
	limits := a.Config.Limits(e.Place)
	for n := e.Run.First; n <= e.Run.Last; n++ {
		if low, known := lows[n]; !known || froze(low, &limits) {
			return true, nil
		}
	}
	return false, nil
}

// froze reports whether a recorded low was a hard freeze where the boats lie.
func froze(tenths int, l *watch.Limits) bool {
	return float64(tenths)/10-l.Offset <= l.AlarmBelow
}

// FreezeSeason is what was called and what came, night by night, for a place.
type FreezeSeason struct {
	Nights            []FreezeOutcome
	Called            int // nights of alarm by the last forecast before them
	Hits, FalseAlarms int // of those, as far as the station's record goes
	Missed            int // hard freezes that were not called
	Unknown           int // called nights that the record does not cover
}

// FreezeOutcome is a night that was called or that froze.
type FreezeOutcome struct {
	freeze.Night
	Recorded    int // tenths of °C
	HasRecorded bool
	Froze       bool
}

// FreezeSeason holds the nights that the watch judged in the season of a day
// against what the place's station recorded.
func (a *App) FreezeSeason(ctx context.Context, place string, today civil.Day) (FreezeSeason, error) {
	var out FreezeSeason
	year := schedule.LayUpSeason(today)
	from, to := civil.Of(year, time.July, 1), civil.Of(year+1, time.June, 30)
	nights, err := freeze.Nights(ctx, a.DB, place, from, to)
	if err != nil {
		return out, err
	}
	lows, err := freeze.StationLows(ctx, a.DB, place, from, to)
	if err != nil {
		return out, err
	}
	limits := a.Config.Limits(place)
	for _, n := range nights {
		if n.Night > today {
			continue
		}
		o := FreezeOutcome{Night: n}
		o.Recorded, o.HasRecorded = lows[n.Night]
		o.Froze = o.HasRecorded && froze(o.Recorded, &limits)
		called := n.Level == watch.Alarm
		switch {
		case called && !o.HasRecorded:
			out.Unknown++
		case called && o.Froze:
			out.Hits++
		case called:
			out.FalseAlarms++
		case o.Froze:
			out.Missed++
		}
		if called {
			out.Called++
		}
		if called || o.Froze {
			out.Nights = append(out.Nights, o)
		}
	}
	return out, nil
}

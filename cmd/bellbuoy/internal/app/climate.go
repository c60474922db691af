package app

import (
	"context"
	"fmt"
	"strconv"

	"bellbuoy/schedule"
	"bellbuoy/schedule/climate"
	"bellbuoy/schedule/texts"
	"bellbuoy/schedule/words"
	"bellbuoy/store/freeze"
)

// Places are the shop's places by name, each with the lay-up day in force.
type Places map[string]schedule.Place

// Of returns the place of that name; one that the settings do not name has no
// seasons.
func (p Places) Of(name string) schedule.Place {
	if pl, ok := p[name]; ok {
		return pl
	}
	return schedule.Place{Name: name}
}

// Places joins the settings with the climates that were loaded. A lay-up day
// written into the settings always wins: whoever wrote it there knows the
// place. Where there is none, the loaded one holds. It is read again each time,
// because another process may have loaded a file meanwhile; the table is tiny.
func (a *App) Places(ctx context.Context) (Places, error) { return a.placesIn(ctx, words.English) }

// placesIn are the places with the sources of their days in a language. What the
// settings say of a source is in English.
func (a *App) placesIn(ctx context.Context, language string) (Places, error) {
	t := a.Planner.Settings().Texts.In(language)
	in := a.Config.Format().In(t.Language())
	loaded, err := freeze.Climates(ctx, a.DB)
	if err != nil {
		return nil, err
	}
	out := make(Places)
	for _, name := range a.Config.PlaceNames() {
		pl := a.Config.Place(name)
		if t.Language() != words.English {
			pl.Source = ""
		}
		out[name] = pl
	}
	for i := range loaded {
		pc := &loaded[i]
		pl, ok := out[pc.Place]
		if autumns := pc.Freeze.Autumns; ok && pc.Freeze.Threshold <= climate.HardFreeze && len(autumns) > 0 {
			pl.HardFreeze = autumns[len(autumns)-1].First
			out[pc.Place] = pl
		}
		if !ok || pl.Freezes() || pc.LayUp.IsZero() || pl.Launch.IsZero() {
			continue
		}
		pl.LayUp, pl.Source = pc.LayUp, climateSource(pc, t, in)
		out[pc.Place] = pl
	}
	return out, a.addFreezes(ctx, out)
}

// Place returns one place with the lay-up day in force.
func (a *App) Place(ctx context.Context, name string) (schedule.Place, error) {
	all, err := a.Places(ctx)
	return all.Of(name), err
}

// climateSource words where a loaded lay-up day comes from, for the reasons.
func climateSource(pc *freeze.Climate, t *texts.Texts, in words.Format) string {
	f := &pc.Freeze
	station, years := "", ""
	if at := stationName(f); at != "" {
		station = t.Say("reasons.climate.station", "station", at)
	}
	if f.Published {
		years = t.Say("reasons.climate.published")
	} else if first, last, n := usedAutumns(f); n > 0 {
		years = t.Say("reasons.climate.autumns", "first", strconv.Itoa(first), "last", strconv.Itoa(last))
	}
	return t.Say("reasons.climate.night", "temperature", in.Temperature(int(f.Threshold)), "day", in.OfYear(pc.LayUp),
		"share", oneIn(t, pc.Percentile), "station", station, "years", years)
}

// oneIn words a percentage of years.
func oneIn(t *texts.Texts, percent int) string {
	switch percent {
	case 10:
		return t.Say("reasons.climate.tenth")
	case 20:
		return t.Say("reasons.climate.fifth")
	case 50:
		return t.Say("reasons.climate.half")
	}
	return t.Say("reasons.climate.percent", "percent", strconv.Itoa(percent))
}

func stationName(f *climate.Freeze) string {
	if f.Name != "" {
		return f.Name
	}
	return f.Station
}

// usedAutumns returns the first and last autumn that counted, and how many did.
func usedAutumns(f *climate.Freeze) (first, last, n int) {
	for _, a := range f.Autumns {
		if !a.Used {
			continue
		}
		if n == 0 {
			first = a.Year
		}
		last = a.Year
		n++
	}
	return first, last, n
}

// PlaceOutlook is what is known about a place's lay-up day and where it comes
// from.
type PlaceOutlook struct {
	Place   schedule.Place  // with the day in force
	ByHand  bool            // the settings give the lay-up day
	Climate *freeze.Climate // nil if no file was loaded
}

// PlaceOutlook looks a place up. A place that the settings do not name is an
// error that says which ones they do.
func (a *App) PlaceOutlook(ctx context.Context, name string) (PlaceOutlook, error) {
	if err := a.checkPlace(name); err != nil {
		return PlaceOutlook{}, err
	}
	byHand := a.Config.Place(name)
	out := PlaceOutlook{ByHand: byHand.Freezes()}
	var err error
	if out.Place, err = a.Place(ctx, name); err != nil {
		return out, err
	}
	loaded, err := freeze.Climates(ctx, a.DB)
	for i := range loaded {
		if loaded[i].Place == name {
			out.Climate = &loaded[i]
		}
	}
	return out, err
}

func (a *App) checkPlace(name string) error {
	for _, n := range a.Config.PlaceNames() {
		if n == name {
			return nil
		}
	}
	return fmt.Errorf("place %q: not in the settings, which name %q", name, a.Config.PlaceNames())
}

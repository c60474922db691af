package main

import (
	"fmt"
	"strings"

	"bellbuoy/cmd/bellbuoy/internal/app"
	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/climate"
	"bellbuoy/store/freeze"
)

// showLoaded says what a file holds that was loaded for no place.
func (a *cli) showLoaded(pc *freeze.Climate) error {
	if a.asJSON {
		return a.printJSON(a.freezeAsJSON(pc, 0))
	}
	a.printClimate(pc)
	a.printf("Nothing was saved; with --place NAME this becomes a place's winterization deadline.\n")
	return nil
}

// printOutlook says which day holds at a place, why, and what is known beside.
func (a *cli) printOutlook(o *app.PlaceOutlook, today civil.Day) {
	pl := &o.Place
	a.printf("%s\n", pl.Name)
	if !pl.Launch.IsZero() {
		a.printf("Launch: %s, from the settings.\n", a.format.OfYear(pl.Launch))
	}
	a.printf("%s\n", a.layUpInForce(o))
	if o.Climate == nil {
		a.printf("No weather file was loaded for it; \"bellbuoy climate load FILE --place %q\" does that.\n", pl.Name)
		return
	}
	a.printf("\nLoaded %s from %s.\n", a.format.Date(civil.FromTime(o.Climate.LoadedAt.UTC())), o.Climate.File)
	a.printClimate(o.Climate)
	if old := o.Climate.Freeze.Stale(today, a.format); old != "" {
		a.printf("%s\n", old)
	}
}

// layUpInForce says where the lay-up day in force comes from.
func (a *cli) layUpInForce(o *app.PlaceOutlook) string {
	pl, loaded := &o.Place, o.Climate
	switch {
	case o.ByHand && loaded != nil && !loaded.LayUp.IsZero():
		return fmt.Sprintf("Winterization: by %s, set by hand in the settings, which goes before the loaded %s.", a.format.OfYear(pl.LayUp), a.format.OfYear(loaded.LayUp))
	case o.ByHand:
		return fmt.Sprintf("Winterization: by %s, set by hand in the settings.", a.format.OfYear(pl.LayUp))
	case pl.Freezes():
		return fmt.Sprintf("Winterization: by %s, from the loaded weather file.", a.format.OfYear(pl.LayUp))
	case loaded != nil && !loaded.LayUp.IsZero():
		return fmt.Sprintf("Winterization deadline: none yet. The loaded file says %s, but the place has no launch day: add launch to it in the settings.", a.format.OfYear(loaded.LayUp))
	}
	return "Winterization deadline: none. Boats here run all year and are planned by date and hours."
}

func (a *cli) printClimate(pc *freeze.Climate) {
	f := &pc.Freeze
	a.printf("%s\n", f.Explain(pc.Percentile, a.format))
	a.printf("%s\n", f.Threshold.Meaning())
	if len(f.Percentiles) > 0 {
		a.printf("\nFirst night at or below %s, by share of autumns:\n", f.Threshold)
		for _, p := range f.Percentiles {
			a.printf("  %2d%%  %s\n", p.P, a.format.OfYear(p.Day))
		}
	}
	a.printAutumns(f)
	for _, d := range f.Dropped {
		a.printf("Left out: %d values, %s (%s).\n", d.Count, d.Meaning, d.Flag)
	}
	for _, n := range f.Notes {
		a.printf("Note: %s\n", n)
	}
}

// printAutumns lists the autumns one a line, those left out with the reason.
func (a *cli) printAutumns(f *climate.Freeze) {
	if len(f.Autumns) == 0 {
		return
	}
	a.printf("\nAutumns:\n")
	for _, u := range f.Autumns {
		switch {
		case !u.Used:
			a.printf("  %d  left out: %s\n", u.Year, u.Reason)
		case u.Froze:
			a.printf("  %d  %s%s\n", u.Year, a.format.Date(u.First), missingDays(u.Missing))
		default:
			a.printf("  %d  no freeze%s\n", u.Year, missingDays(u.Missing))
		}
	}
}

func missingDays(n int) string {
	switch n {
	case 0:
		return ""
	case 1:
		return ", 1 day missing"
	}
	return fmt.Sprintf(", %d days missing", n)
}

// placeJSON is what "climate show --json" prints; days of the year are MM-DD.
type placeJSON struct {
	Place   string         `json:"place"`
	Launch  civil.MonthDay `json:"launch"`
	LayUp   civil.MonthDay `json:"winterize_by"`
	ByHand  bool           `json:"set_by_hand"`
	Source  string         `json:"source"`
	Climate *freezeJSON    `json:"climate"`
}

// freezeJSON is a weather file's answer; the threshold is in tenths of °C.
type freezeJSON struct {
	Station     string            `json:"station"`
	Name        string            `json:"name"`
	File        string            `json:"file"`
	Threshold   climate.Threshold `json:"threshold_tenths_c"`
	Percentile  int               `json:"percentile"`
	LayUp       civil.MonthDay    `json:"winterize_by"`
	Published   bool              `json:"published"`
	FreezesIn   *float64          `json:"freezes_in_percent"` // null if not known
	Percentiles map[string]string `json:"percentiles"`
	Autumns     []autumnJSON      `json:"autumns"`
	Dropped     []climate.Drop    `json:"dropped"`
	LastSeen    civil.Day         `json:"last_seen"`
	Stale       string            `json:"stale,omitempty"`
	Notes       []string          `json:"notes,omitempty"`
	Explained   string            `json:"explained"`
}

type autumnJSON struct {
	Year    int       `json:"year"`
	First   civil.Day `json:"first_freeze"`
	Missing int       `json:"missing_days"`
	Used    bool      `json:"used"`
	Reason  string    `json:"left_out_because,omitempty"`
}

func (a *cli) climateAsJSON(o *app.PlaceOutlook, today civil.Day) placeJSON {
	out := placeJSON{Place: o.Place.Name, Launch: o.Place.Launch, LayUp: o.Place.LayUp, ByHand: o.ByHand, Source: o.Place.Source}
	if o.Climate != nil {
		f := a.freezeAsJSON(o.Climate, today)
		out.Climate = &f
	}
	return out
}

// freezeAsJSON leaves staleness out where there is no today.
func (a *cli) freezeAsJSON(pc *freeze.Climate, today civil.Day) freezeJSON {
	f := &pc.Freeze
	out := freezeJSON{
		Station: f.Station, Name: f.Name, File: pc.File, Threshold: f.Threshold, Percentile: pc.Percentile, LayUp: pc.LayUp,
		Published: f.Published, Percentiles: make(map[string]string), Autumns: []autumnJSON{},
		Dropped: append([]climate.Drop{}, f.Dropped...), LastSeen: f.LastSeen, Notes: f.Notes,
		Explained: strings.TrimSpace(f.Explain(pc.Percentile, a.format)),
	}
	if f.FreezesInPercent >= 0 {
		out.FreezesIn = &f.FreezesInPercent
	}
	for _, p := range f.Percentiles {
		out.Percentiles[fmt.Sprint(p.P)] = p.Day.String()
	}
	for _, u := range f.Autumns {
		out.Autumns = append(out.Autumns, autumnJSON{u.Year, u.First, u.Missing, u.Used, u.Reason})
	}
	if today != 0 {
		out.Stale = f.Stale(today, a.format)
	}
	return out
}

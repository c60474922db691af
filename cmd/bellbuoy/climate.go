package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"time"

	"github.com/spf13/cobra"

	"bellbuoy/cmd/bellbuoy/internal/app"
	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/climate"
	"bellbuoy/store"
	"bellbuoy/store/freeze"
)

func climateCommand(a *cli) *cobra.Command {
	c := &cobra.Command{
		Use:   "climate",
		Short: "Winterization deadlines from weather records",
		Example: `  bellbuoy climate load USW00014735.dly
  bellbuoy climate show "Our lake"`,
		Long: `Works out from daily minimum temperatures, or takes from published freeze
normals, by which day of the autumn it has frozen in one year of ten (or another
share), and lets that day be a place's winterization deadline.

A winterize_by day in the settings always holds; a loaded one counts where there
is none. The day is an estimate from past years: the engine maker's manual and
tonight's forecast come first.`,
		Args: cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error { return c.Help() },
	}
	c.AddCommand(climateLoadCommand(a), climateShowCommand(a), climateForgetCommand(a), climateWatchCommand(a))
	return c
}

// climateLoad is what one call of "climate load" asks for.
type climateLoad struct {
	place, threshold, unit string
	percentile             int
	o                      climate.Options
}

func climateLoadCommand(a *cli) *cobra.Command {
	var l climateLoad
	c := &cobra.Command{
		Use:   "load FILE",
		Short: "Read a weather file; with --place keep its day for that place",
		Long: `Reads GHCN-Daily (.dly or by-station CSV), a daily summaries CSV (a header with
DATE and TMIN), or a station's annual/seasonal climate normals CSV, and says what
it found. Without --place nothing is kept.`,
		Example: `  bellbuoy climate load USW00014735.dly
  bellbuoy climate load summaries.csv --unit f --place "Our lake"
  bellbuoy climate load normals.csv --threshold 28F --place "Our lake"`,
		Args: cobra.ExactArgs(1),
		RunE: func(c *cobra.Command, args []string) error { return a.climateLoad(c.Context(), args[0], &l) },
	}
	f := c.Flags()
	f.StringVar(&l.place, "place", "", "the `place` of the settings that the day is for")
	f.StringVar(&l.threshold, "threshold", "32F", "what counts as a freeze, a `temperature` with its unit: 32F, 28F, 0C, -2.2C")
	f.IntVar(&l.percentile, "percentile", 10, "the share of autumns, in `percent`, in which it may have frozen by the day")
	f.StringVar(&l.unit, "unit", "", "of a daily summaries file: c, f or tenths (of °C); without it the file must leave no doubt")
	f.StringVar(&l.o.Station, "station", "", "the `station` to take from a file that holds several")
	f.IntVar(&l.o.MaxMissing, "max-missing", 0, "leave out an autumn that lacks more than this `percent` of its days (10 unless given)")
	f.IntVar(&l.o.MaxGap, "max-gap", 0, "leave out an autumn with more than so many `days` missing right before its first freeze (7 unless given)")
	return c
}

func (a *cli) climateLoad(ctx context.Context, path string, l *climateLoad) error {
	if l.percentile < 1 || l.percentile > 99 {
		return usagef("--percentile %d: want a share of autumns from 1 to 99, for example 10", l.percentile)
	}
	days, err := readWeather(path, l)
	if err != nil {
		return err
	}
	pc := freeze.Climate{Place: l.place, Percentile: l.percentile, Freeze: *days, File: filepath.Base(path)}
	pc.LayUp, _ = days.Deadline(l.percentile)
	if l.place == "" {
		return a.showLoaded(&pc)
	}
	return a.keepClimate(ctx, &pc)
}

// readWeather reads the file and puts its name before every fault.
func readWeather(path string, l *climateLoad) (*climate.Freeze, error) {
	t, err := climate.ParseThreshold(l.threshold)
	if err != nil {
		return nil, usagef("--threshold: %w", err)
	}
	if l.o.Unit, err = climate.ParseUnit(l.unit); err != nil {
		return nil, usagef("--unit: %w", err)
	}
	file, err := os.Open(path)
	if err != nil {
		return nil, fmt.Errorf("weather file: %w", err)
	}
	defer file.Close() // only read
	freeze, err := climate.Read(file, t, l.o)
	var one *climate.Fault
	var all climate.Faults
	switch {
	case errors.As(err, &all):
		return nil, inFile(path, all)
	case errors.As(err, &one):
		return nil, inFile(path, climate.Faults{one})
	}
	if err != nil {
		return nil, fmt.Errorf("%s: %w", path, err)
	}
	return freeze, nil
}

// inFile puts "file:line: " before each fault.
func inFile(path string, faults climate.Faults) error {
	all := make([]error, len(faults))
	for i, f := range faults {
		at := path
		if f.Line > 0 {
			at = fmt.Sprintf("%s:%d", path, f.Line)
		}
		all[i] = fmt.Errorf("%s: %s", at, f.Text)
	}
	return errors.Join(all...)
}

// keepClimate lets the file speak for a place and plans its boats again.
func (a *cli) keepClimate(ctx context.Context, pc *freeze.Climate) error {
	h, err := a.openApp(ctx)
	if err != nil {
		return err
	}
	defer h.Close()
	if err := a.worksHere(ctx, h); err != nil {
		return err
	}
	now, err := a.instant(h.Config)
	if err != nil {
		return err
	}
	if _, err := h.PlaceOutlook(ctx, pc.Place); err != nil {
		return err
	}
	did, err := h.SetPlaceClimate(ctx, now, actor, *pc)
	if err != nil {
		return err
	}
	return a.printPlace(ctx, h, civil.FromTime(now), pc.Place, &did)
}

// printPlace says what holds at a place whose climate changed, and what that did.
func (a *cli) printPlace(ctx context.Context, h *app.App, today civil.Day, place string, did *app.Change) error {
	after, err := h.PlaceOutlook(ctx, place)
	if err != nil {
		return err
	}
	if a.asJSON {
		return a.printJSON(a.climateAsJSON(&after, today))
	}
	a.printOutlook(&after, today)
	a.printf("%d boats planned, %d plans changed.\n", did.Boats, did.Changed)
	return nil
}

func climateShowCommand(a *cli) *cobra.Command {
	return &cobra.Command{
		Use:   "show PLACE",
		Short: "A place's winterization deadline and where it comes from",
		Args:  cobra.ExactArgs(1),
		RunE: a.withApp(func(c *cobra.Command, h *app.App, now time.Time, args []string) error {
			today := civil.FromTime(now)
			out, err := h.PlaceOutlook(c.Context(), args[0])
			if err != nil {
				return err
			}
			if a.asJSON {
				return a.printJSON(a.climateAsJSON(&out, today))
			}
			a.printOutlook(&out, today)
			return nil
		}),
	}
}

func climateForgetCommand(a *cli) *cobra.Command {
	return &cobra.Command{
		Use:   "forget PLACE",
		Short: "Forget what was loaded for a place",
		Args:  cobra.ExactArgs(1),
		RunE: a.withChange(func(c *cobra.Command, h *app.App, now time.Time, args []string) error {
			if _, err := h.PlaceOutlook(c.Context(), args[0]); err != nil {
				return err
			}
			did, err := h.RemovePlaceClimate(c.Context(), now, actor, args[0])
			if errors.Is(err, store.ErrNotFound) {
				return fmt.Errorf("place %q: no weather file was loaded for it", args[0])
			}
			if err != nil {
				return err
			}
			return a.printPlace(c.Context(), h, civil.FromTime(now), args[0], &did)
		}),
	}
}

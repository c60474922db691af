package main

import (
	"context"
	"fmt"
	"math"
	"time"

	"github.com/spf13/cobra"

	"bellbuoy/cmd/bellbuoy/internal/app"
	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/words"
)

func climateWatchCommand(a *cli) *cobra.Command {
	var file string
	var season bool
	c := &cobra.Command{
		Use:   "watch [PLACE]",
		Short: "The nights to come, and the boats that a freeze would break",
		Long: `Says for each coming night of a place's forecast the lowest temperature where the
boats lie, the hours at or below freezing and at or below a hard freeze, the
chance of one, and what that is worth: quiet, watch or alarm. Then the boats at
risk, the first to freeze first. It reads what the daemon last read, asks no
weather service, and changes nothing.

With --file it reads a forecast by hand: the US National Weather Service's
gridpoint JSON or MET Norway's Locationforecast 2.0 (compact).`,
		Example: `  bellbuoy climate watch
  bellbuoy climate watch "Our lake" --file forecast.json
  bellbuoy climate watch "Our lake" --season`,
		Args: cobra.MaximumNArgs(1),
		RunE: a.withApp(func(c *cobra.Command, h *app.App, now time.Time, args []string) error {
			place := ""
			if len(args) > 0 {
				place = args[0]
				if _, err := h.PlaceOutlook(c.Context(), place); err != nil {
					return err
				}
			}
			if file != "" {
				return a.watchFile(h, now, place, file)
			}
			return a.watchPlaces(c.Context(), h, now, place, season)
		}),
	}
	c.Flags().StringVar(&file, "file", "", "read a forecast from a `file`, judged for PLACE")
	c.Flags().BoolVar(&season, "season", false, "say too which nights of this season were called, and what came")
	return c
}

// watchFile judges a forecast that somebody saved.
func (a *cli) watchFile(h *app.App, now time.Time, place, file string) error {
	f, err := app.ReadForecast(file)
	if err != nil {
		return err
	}
	nights := h.JudgeNights(place, f, f.Issued)
	if !a.asJSON {
		a.printf("Issued %s, %s old. %s.\n", a.moment(f.Issued.In(h.Config.Zone())), words.Plural(int(f.Age(now).Hours()), "hour", "hours"), f.Source.Credit())
		a.printNights(nights)
		return nil
	}
	return a.printJSON(watchJSON{Place: place, Issued: f.Issued, Credit: f.Source.Credit(), Nights: nightsJSON(nights)})
}

func (a *cli) watchPlaces(ctx context.Context, h *app.App, now time.Time, place string, season bool) error {
	places, err := h.FreezeWatch(ctx, now, app.FreezeBoats)
	if err != nil {
		return err
	}
	all := []watchJSON{}
	for i := range places {
		p := &places[i]
		if place != "" && p.Place != place {
			continue
		}
		out := watchJSON{Place: p.Place, TooOld: p.TooOld, Fault: p.Known.Fault, Level: p.Level.String(), Nights: nightsJSON(p.Nights), Boats: boatsJSON(p)}
		if f := p.Known.Forecast; f != nil {
			out.Issued, out.Credit = f.Issued, f.Source.Credit()
		}
		if season {
			s, err := h.FreezeSeason(ctx, p.Place, civil.FromTime(now))
			if err != nil {
				return err
			}
			out.Season = &watchSeasonJSON{s.Called, s.Hits, s.FalseAlarms, s.Missed, s.Unknown}
		}
		all = append(all, out)
		if !a.asJSON {
			a.printWatch(h, p, now)
			a.printWatchSeason(out.Season)
		}
	}
	if a.asJSON {
		return a.printJSON(all)
	}
	if len(all) == 0 {
		a.printf("No forecast is asked for: name one in the settings (forecast, at its place), or give --file.\n")
	}
	return nil
}

func (a *cli) printWatch(h *app.App, p *app.FreezePlace, now time.Time) {
	a.printf("%s\n", p.Place)
	if f := p.Known.Forecast; f == nil {
		a.printf("No forecast has come yet.\n")
	} else {
		a.printf("Forecast of %s, %s old. %s.\n", a.moment(f.Issued.In(h.Config.Zone())), words.Plural(int(f.Age(now).Hours()), "hour", "hours"), f.Source.Credit())
	}
	if p.TooOld {
		a.printf("It is too old to raise an alarm.\n")
	}
	if p.Known.Fault != "" {
		a.printf("The last try failed: %s.\n", p.Known.Fault)
	}
	a.printNights(p.Nights)
	if len(p.Boats) == 0 {
		return
	}
	a.printf("\n%s\n%s\n", p.Alarm(a.format), p.Hours(a.format))
	for i := range p.Boats {
		b := &p.Boats[i]
		cut := ""
		if b.Cut {
			cut = " No hours are left for it."
		}
		owner := b.Owner.Name
		if b.Owner.Phone != "" {
			owner += ", " + b.Owner.Phone
		}
		a.printf("%3d  %s (%s): %s %s%s\n", i+1, b.Boat.Title(), owner, b.Why, b.Standing(a.format), cut)
	}
}

func (a *cli) printNights(nights []app.FreezeNight) {
	for _, n := range nights {
		if !n.Known {
			a.printf("  night to %s: not covered by the forecast\n", n.To)
			continue
		}
		by := ""
		if n.HasBy {
			by = fmt.Sprintf("; first freeze by then in %d%% of autumns", n.By)
		}
		a.printf("  night to %s: %s, %s, %.0f h at or below freezing, %.0f h of hard freeze, chance %.0f%%%s\n",
			n.To, n.Level, a.format.Temperature(int(math.Round(n.YardLow*10))), n.Freezing, n.HardHours, 100*n.Chance, by)
	}
}

func (a *cli) printWatchSeason(s *watchSeasonJSON) {
	if s != nil {
		a.printf("\nThis season: %d nights called, %d hits, %d false alarms, %d hard freezes not called, %d without a record yet.\n", s.Called, s.Hits, s.FalseAlarms, s.Missed, s.Unknown)
	}
}

// watchJSON is a place of "climate watch --json"; temperatures are in °C.
type watchJSON struct {
	Place  string           `json:"place"`
	Issued time.Time        `json:"issued"`
	Credit string           `json:"credit"`
	TooOld bool             `json:"too_old"`
	Fault  string           `json:"fault,omitempty"`
	Level  string           `json:"level,omitempty"`
	Nights []nightJSON      `json:"nights"`
	Boats  []atRiskJSON     `json:"boats,omitempty"`
	Season *watchSeasonJSON `json:"season,omitempty"`
}

type nightJSON struct {
	Night     civil.Day `json:"night_to"`
	Known     bool      `json:"covered"`
	Level     string    `json:"level"`
	Low       float64   `json:"low_c"`
	Freezing  float64   `json:"hours_freezing"`
	Hard      float64   `json:"hours_hard_freeze"`
	Chance    float64   `json:"chance"`
	ByPercent *int      `json:"first_freeze_by_then_percent"`
}

type atRiskJSON struct {
	Boat     string          `json:"boat"`
	Danger   schedule.Danger `json:"danger"`
	Why      string          `json:"why"`
	Customer string          `json:"customer"`
	InTime   bool            `json:"booked_in_time"`
	NoHours  bool            `json:"no_hours_left"`
}

type watchSeasonJSON struct {
	Called      int `json:"called"`
	Hits        int `json:"hits"`
	FalseAlarms int `json:"false_alarms"`
	Missed      int `json:"missed"`
	Unknown     int `json:"without_record"`
}

func nightsJSON(nights []app.FreezeNight) []nightJSON {
	out := []nightJSON{}
	for _, n := range nights {
		x := nightJSON{Night: n.To, Known: n.Known, Level: n.Level.String(), Low: round2(n.YardLow), Freezing: round2(n.Freezing), Hard: round2(n.HardHours), Chance: round2(n.Chance)}
		if n.HasBy {
			x.ByPercent = &n.By
		}
		out = append(out, x)
	}
	return out
}

func boatsJSON(p *app.FreezePlace) []atRiskJSON {
	var out []atRiskJSON
	for i := range p.Boats {
		b := &p.Boats[i]
		out = append(out, atRiskJSON{b.Boat.ID, b.Danger, b.Why, b.Owner.ID, b.InTime, b.Cut})
	}
	return out
}

func round2(v float64) float64 { return math.Round(v*100) / 100 }

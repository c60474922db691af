package config

import (
	"fmt"
	"math"
	"net/netip"
	"net/url"
	"regexp"
	"strconv"

	"bellbuoy/schedule/climate/watch"
)

// Freeze is the freeze watch: what a forecast night is worth, and who hears of
// it. Temperatures are in °C.
type Freeze struct {
	Emails      bool    `toml:"emails"` // owners are told by email
	Margin      float64 `toml:"margin_c"`
	AlarmBelow  float64 `toml:"alarm_below_c"`
	AlarmHours  float64 `toml:"alarm_hours"`
	AlarmChance float64 `toml:"alarm_chance"`
	SigmaFirst  float64 `toml:"sigma_first_c"`
	SigmaFifth  float64 `toml:"sigma_fifth_c"`
	From        string  `toml:"from_hour"`
	Until       string  `toml:"until_hour"`
	MostASeason int     `toml:"most_a_season"` // emails to one owner
}

// Limits are the figures for judging a night at a place.
func (c *Config) Limits(place string) watch.Limits {
	f := &c.Freeze
	l := watch.Limits{
		Margin: f.Margin, AlarmBelow: f.AlarmBelow, AlarmHours: f.AlarmHours, AlarmChance: f.AlarmChance,
		SigmaFirst: f.SigmaFirst, SigmaFifth: f.SigmaFifth,
	}
	for _, p := range c.Places {
		if p.Name == place {
			l.Offset = p.YardOffset
		}
	}
	return l
}

// ForecastSource says where a place's forecast comes from: one of file and
// address, or neither.
type ForecastSource struct {
	File    string // with its folder
	Address string
}

// metNorway is the address of MET Norway's Locationforecast.
const metNorway = "https://api.met.no/weatherapi/locationforecast/2.0/compact"

var coordinates = regexp.MustCompile(`^(-?[0-9]{1,2}(?:\.[0-9]+)?)\s*,\s*(-?[0-9]{1,3}(?:\.[0-9]+)?)$`)

// ForecastSource reads a place's setting: coordinates are asked of MET Norway,
// with four decimals, as its terms want; an address is fetched as it is; all else
// is a file.
func (c *Config) ForecastSource(p *Place) (ForecastSource, error) {
	s := p.Forecast
	if m := coordinates.FindStringSubmatch(s); m != nil {
		lat, err1 := strconv.ParseFloat(m[1], 64)
		lon, err2 := strconv.ParseFloat(m[2], 64)
		if err1 != nil || err2 != nil || math.Abs(lat) > 90 || math.Abs(lon) > 180 {
			return ForecastSource{}, fmt.Errorf("%q: want latitude and longitude in degrees, as \"44.4759, -73.2121\"", s)
		}
		round := func(v float64) string { return strconv.FormatFloat(math.Round(v*1e4)/1e4, 'f', -1, 64) }
		return ForecastSource{Address: metNorway + "?lat=" + round(lat) + "&lon=" + round(lon)}, nil
	}
	u, err := url.Parse(s)
	if err != nil || u.Scheme != "http" && u.Scheme != "https" {
		return ForecastSource{File: c.Path(s)}, nil
	}
	// Somebody on the way could send a false freeze; a machine's own server is
	// beyond that.
	if a, err := netip.ParseAddr(u.Hostname()); u.Host == "" || u.Scheme == "http" && (err != nil || !a.IsLoopback()) {
		return ForecastSource{}, fmt.Errorf("%q: want an https address", s)
	}
	return ForecastSource{Address: s}, nil
}

// checkFreeze reports what cannot be meant.
func (c *Config) checkFreeze(fault faulter) {
	f := &c.Freeze
	degrees := func(field string, v, low, high float64) {
		if math.IsNaN(v) || v < low || v > high {
			fault(field, "%g: want %g to %g", v, low, high)
		}
	}
	degrees("freeze.margin_c", f.Margin, 0, 10)
	degrees("freeze.alarm_below_c", f.AlarmBelow, -20, 5)
	degrees("freeze.alarm_hours", f.AlarmHours, 0.5, 20)
	degrees("freeze.alarm_chance", f.AlarmChance, 0.01, 0.99)
	degrees("freeze.sigma_first_c", f.SigmaFirst, 0.1, 10)
	degrees("freeze.sigma_fifth_c", f.SigmaFifth, f.SigmaFirst, 15)
	if f.MostASeason < 1 || f.MostASeason > 20 {
		fault("freeze.most_a_season", "%d: want 1 to 20", f.MostASeason)
	}
	for i := range c.Places {
		p := &c.Places[i]
		at := fmt.Sprintf("place %d (%q)", i+1, p.Name)
		degrees(at+": yard_offset_c", p.YardOffset, -5, 10)
		if p.Forecast == "" {
			continue
		}
		src, err := c.ForecastSource(p)
		switch {
		case err != nil:
			fault(at+": forecast", "%v", err)
		case src.Address != "" && c.Shop.Email == "":
			fault(at+": forecast", "needs shop.email: the weather services ask who calls")
		}
	}
}

package config

import (
	"strings"
	"testing"

	"bellbuoy/schedule/climate/watch"
)

func TestForecastSource(t *testing.T) {
	for setting, want := range map[string]ForecastSource{
		"forecast.json":                                {File: "shop/forecast.json"},
		"/srv/forecast.json":                           {File: "/srv/forecast.json"},
		"44.47591234,-73.2121":                         {Address: metNorway + "?lat=44.4759&lon=-73.2121"},
		"44, -73.21217":                                {Address: metNorway + "?lat=44&lon=-73.2122"},
		"http://127.0.0.1:9/x,y":                       {Address: "http://127.0.0.1:9/x,y"},
		"https://api.weather.gov/gridpoints/BTV/88,57": {Address: "https://api.weather.gov/gridpoints/BTV/88,57"},
	} {
		c, err := Parse("shop/bellbuoy.toml", []byte("[shop]\nemail = \"desk@example.com\"\n[[place]]\nname = \"Lake\"\nforecast = \""+setting+"\""))
		if err != nil {
			t.Errorf("%q: %v", setting, err)
			continue
		}
		if got, err := c.ForecastSource(&c.Places[0]); err != nil || got != want {
			t.Errorf("%q: %+v, %v; want %+v", setting, got, err, want)
		}
	}
	for text, want := range map[string]string{
		"[[place]]\nname = \"Lake\"\nforecast = \"http://weather.example/x\"": "want an https address",
		"[[place]]\nname = \"Lake\"\nforecast = \"91, 10\"":                   "want latitude and longitude",
		"[[place]]\nname = \"Lake\"\nforecast = \"44, -73\"":                  "needs shop.email",
		"[[place]]\nname = \"Lake\"\nyard_offset_c = 40":                      "yard_offset_c: 40",
		"[freeze]\nalarm_chance = 30":                                         "freeze.alarm_chance: 30",
		"[freeze]\nsigma_fifth_c = 1.0":                                       "freeze.sigma_fifth_c: 1",
		"[freeze]\nfrom_hour = \"seven\"":                                     "freeze.from_hour",
		"[freeze]\nmost_a_season = 0":                                         "freeze.most_a_season: 0",
	} {
		if _, err := Parse("bellbuoy.toml", []byte(text)); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %v; want %q", text, err, want)
		}
	}
}

// The template's figures are the package's own.
func TestFreezeDefaults(t *testing.T) {
	c, err := Parse("bellbuoy.toml", []byte("[[place]]\nname = \"Lake\"\nyard_offset_c = 3"))
	if err != nil {
		t.Fatal(err)
	}
	want := watch.DefaultLimits()
	want.Offset = 3
	if got := c.Limits("Lake"); got != want || c.Freeze.Emails || c.Places[0].Forecast != "" {
		t.Errorf("%+v, want %+v; nobody is asked and nobody emailed by default", got, want)
	}
}

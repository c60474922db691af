package demo

import (
	"encoding/json"
	"math"
	"time"

	"bellbuoy/schedule/civil"
)

// ForecastFile is the name of the demo's invented forecast, beside its settings.
const ForecastFile = "forecast.json"

// FreezeDay is the day on which the demo's freeze is seen coming: the last
// Wednesday by October 8, of this fall or, before July, of the last one.
func FreezeDay(today civil.Day) civil.Day {
	year := today.Year()
	if today.Month() < time.July {
		year--
	}
	d := civil.Of(year, time.October, 8)
	for d.Weekday() != time.Wednesday {
		d--
	}
	return d
}

// Forecast is an invented forecast in the National Weather Service's format: mild
// nights, and one of -4 °C to the next Saturday, by a sine from each afternoon's
// high to the next morning's low.
func Forecast(now time.Time) ([]byte, error) {
	type value struct {
		ValidTime string  `json:"validTime"`
		Value     float64 `json:"value"`
	}
	type layer struct {
		Unit   string  `json:"uom"`
		Values []value `json:"values"`
	}
	var hours layer
	hours.Unit = "wmoUnit:degC"
	today := civil.FromTime(now)
	saturday := today + 1
	for saturday.Weekday() != time.Saturday {
		saturday++
	}
	low := func(d civil.Day) float64 {
		switch d {
		case saturday:
			return -4
		case saturday - 1, saturday + 1:
			return 0.5
		}
		return 5
	}
	start := today.At(12, 0, now.Location())
	for h := range 7 * 24 {
		at := start.Add(time.Duration(h) * time.Hour)
		d, hour := civil.FromTime(at), at.Hour()
		// Highs at three in the afternoon, lows at six in the morning.
		var c float64
		if hour < 6 || hour >= 15 {
			next := d
			if hour >= 15 {
				next++
			}
			since := float64((hour + 9) % 24) // hours after three
			c = halfWave(12, low(next), since/15)
		} else {
			c = halfWave(low(d), 12, float64(hour-6)/9)
		}
		hours.Values = append(hours.Values, value{at.UTC().Format(time.RFC3339) + "/PT1H", math.Round(c*10) / 10})
	}
	return json.MarshalIndent(map[string]any{"properties": map[string]any{
		"updateTime": now.Add(-time.Hour).UTC().Format(time.RFC3339), "temperature": hours,
	}}, "", " ")
}

// halfWave goes from a to b by half a wave, for a share of the time.
func halfWave(a, b, share float64) float64 { return a + (b-a)*(1-math.Cos(math.Pi*share))/2 }

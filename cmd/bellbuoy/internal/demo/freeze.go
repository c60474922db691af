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
// nights, and one of -4 °C to the next Saturday.
func Forecast(now time.Time) ([]byte, error) {
	today := civil.FromTime(now)
	saturday := today + 1
	for saturday.Weekday() != time.Saturday {
		saturday++
	}
	return ForecastOf(now.Add(-time.Hour), today, 7, now.Location(), func(d civil.Day) (low, high float64) {
		switch d {
		case saturday:
			return -4, 12
		case saturday - 1, saturday + 1:
			return 0.5, 12
		}
		return 5, 12
	})
}

// ForecastOf is a forecast in the National Weather Service's format, hour by hour
// from noon of a day for so many nights, made from each day's low and high in °C:
// half a wave from the high at three in the afternoon to the next low at six in
// the morning, and half a wave back.
func ForecastOf(issued time.Time, first civil.Day, nights int, zone *time.Location, day func(civil.Day) (low, high float64)) ([]byte, error) {
	type value struct {
		ValidTime string  `json:"validTime"`
		Value     float64 `json:"value"`
	}
	type layer struct {
		Unit   string  `json:"uom"`
		Values []value `json:"values"`
	}
	hours := layer{Unit: "wmoUnit:degC"}
	start := first.At(12, 0, zone)
	for h := range nights * 24 {
		at := start.Add(time.Duration(h) * time.Hour)
		d, clock := civil.FromTime(at), float64(at.Hour())+0.5
		low, high := day(d)
		var c float64
		switch {
		case clock < 6:
			_, before := day(d - 1)
			c = halfWave(before, low, (clock+9)/15)
		case clock < 15:
			c = halfWave(low, high, (clock-6)/9)
		default:
			next, _ := day(d + 1)
			c = halfWave(high, next, (clock-15)/15)
		}
		hours.Values = append(hours.Values, value{at.UTC().Format(time.RFC3339) + "/PT1H", math.Round(c*10) / 10})
	}
	return json.MarshalIndent(map[string]any{"properties": map[string]any{
		"updateTime": issued.UTC().Format(time.RFC3339), "temperature": hours,
	}}, "", " ")
}

// halfWave goes from a to b by half a wave, for a share of the time.
func halfWave(a, b, share float64) float64 { return a + (b-a)*(1-math.Cos(math.Pi*share))/2 }

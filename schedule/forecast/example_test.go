package forecast_test

import (
	"fmt"
	"time"

	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/forecast"
)

// When does an engine need its oil changed that had it changed at 180 h and is
// due again at 280 h?
func Example() {
	afloat, _ := forecast.NewSeason(
		civil.MonthDay{Month: time.May, Day: 10}, civil.MonthDay{Month: time.October, Day: 15},
		[12]float64{4: 12, 5: 20, 6: 28, 7: 24, 8: 9, 9: 2})
	prior := forecast.Prior{MeanHours: 40, Weight: 0.25, OutingHours: 2.5, Yearly: 0.25}
	m, faults := forecast.New(prior, afloat, []forecast.Reading{
		{Day: civil.Of(2025, time.May, 2), Hours: 137.5},
		{Day: civil.Of(2025, time.October, 12), Hours: 180},
		{Day: civil.Of(2023, time.October, 9), Hours: 96},
		{Day: civil.Of(2024, time.October, 14), Hours: 1360},
	}, 0)
	for _, f := range faults {
		fmt.Println(f.Reading.Day, f.Reason)
	}
	fmt.Printf("%.0f h a season\n", m.Rate())
	for _, p := range []float64{0.25, 0.5, 0.75} {
		day, _ := m.DayReached(280, p)
		fmt.Printf("%2.0f %%: %s\n", 100*p, day)
	}
	// Output:
	// 2024-10-14 1360.0 h is above the 137.5 h read later, on 2025-05-02, and no new meter is noted
	// 42 h a season
	// 25 %: 2027-09-28
	// 50 %: 2028-07-18
	// 75 %: 2029-06-07
}

package demo

import (
	"time"

	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
)

// Places returns where the demo shop's boats float: five spots around one
// invented lake that freezes, and a warm harbour without a lay-up, where a few
// customers keep a second boat.
func Places() []schedule.Place {
	at := func(name string, launch, layUp civil.MonthDay) schedule.Place {
		return schedule.Place{Name: name, Launch: launch, LayUp: layUp}
	}
	day := func(m time.Month, d int) civil.MonthDay { return civil.MonthDay{Month: m, Day: d} }
	return []schedule.Place{
		at("Lindrake Cove", day(time.May, 15), day(time.October, 10)),
		at("Port Averil", day(time.May, 8), day(time.October, 18)),
		at("Tolliver Landing", day(time.May, 12), day(time.October, 12)),
		at("North Narrows", day(time.May, 24), day(time.September, 30)),
		at("Heron Reach", day(time.May, 1), day(time.October, 24)),
		at("Sable Quay", civil.MonthDay{}, civil.MonthDay{}),
	}
}

// town is a place with the share of customers who live there and what stands
// on their envelopes. Postal codes below 00500 are given to no town in the
// United States.
type town struct {
	schedule.Place
	share  int // per cent
	region string
	postal string
	water  string
}

func towns() []town {
	places := Places()
	rest := []town{
		{share: 36, region: "Tamarwick", postal: "00412", water: "fresh"},
		{share: 24, region: "Tamarwick", postal: "00415", water: "fresh"},
		{share: 16, region: "Tamarwick", postal: "00418", water: "fresh"},
		{share: 10, region: "Tamarwick", postal: "00421", water: "fresh"},
		{share: 9, region: "Tamarwick", postal: "00424", water: "fresh"},
		{share: 5, region: "Lower Sable", postal: "00486", water: "salt"},
	}
	for i := range rest {
		rest[i].Place = places[i]
	}
	return rest
}

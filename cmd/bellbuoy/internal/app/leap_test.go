package app_test

import (
	"testing"

	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
)

// TestAClockThatLeapsOpensNoBookings: a booked day without a record opens its visit
// again some days later. A clock that is months ahead for a night must not open every
// booking until then; a shop that was off for months opens them a day later.
func TestAClockThatLeapsOpensNoBookings(t *testing.T) {
	a := workedApp(t, "10-09", 2)
	today := d("2026-08-03")
	settle(t, a, today)
	v := visits(t, a)["B00.lay-up.2026"]
	booking := schedule.Booking{VisitID: v.ID, BoatID: v.BoatID, Kind: v.Kind, Day: d("2026-09-15"), Minute: -1}
	if _, err := a.Book(t.Context(), today.At(9, 0, a.Config.Zone()), "test", booking, nil, true); err != nil {
		t.Fatal(err)
	}
	settle(t, a, today+60) // for one night
	for _, c := range []struct {
		on     civil.Day
		booked bool
		why    string
	}{
		{today + 1, true, "the clock is right again"},
		{d("2026-09-25"), true, "the program was off for weeks, and the day passed meanwhile"},
		{d("2026-09-26"), false, "the next day says the same"},
	} {
		settle(t, a, c.on)
		if now := visits(t, a)[v.ID]; now.Booked() != c.booked {
			t.Errorf("on %s, %s: booked is %v, want %v", c.on, c.why, now.Booked(), c.booked)
		}
	}
}

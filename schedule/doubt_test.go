package schedule_test

import (
	"testing"

	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/rules"
)

// doubtful is an outboard of 2020 on a lake that launches on 15 May and is laid up
// by 10 October, read at 180 h on 1 September 2025, its oil changed that day.
func doubtful() schedule.Facts {
	return schedule.Facts{
		Boat:  schedule.Boat{ID: "FINCH", Year: 2020, Kind: "runabout", Water: "fresh", Berth: "own-dock"},
		Place: schedule.Place{Name: "lake", Launch: civil.MonthDay{Month: 5, Day: 15}, LayUp: civil.MonthDay{Month: 10, Day: 10}},
		Components: []schedule.Component{{ID: "E1", BoatID: "FINCH", Kind: "engine",
			Attr: schedule.Attr{Propulsion: "outboard", Stroke: "four", Fuel: "gasoline", Cooling: "raw-water"}}},
		Readings: []schedule.Reading{{ComponentID: "E1", Day: civil.Of(2025, 9, 1), Hours: 1800}},
		Records:  []schedule.Record{{ID: "r1", BoatID: "FINCH", ComponentID: "E1", Day: civil.Of(2025, 9, 1), Service: "engine-oil", By: schedule.ByShop}},
	}
}

func usualPlanner(t *testing.T) *schedule.Planner {
	t.Helper()
	cat, err := rules.Default()
	if err != nil {
		t.Fatal(err)
	}
	return schedule.NewPlanner(cat, schedule.DefaultSettings())
}

// TestDoubtfulRecords: the cases are worked by hand. The deadline of 10 October
// 2026 lies in the week of 5 October; six weeks before is the week of 24 August,
// and four weeks before that is 27 July: a lay-up from 15 May to 26 July is
// doubted.
func TestDoubtfulRecords(t *testing.T) {
	p := usualPlanner(t)
	for _, c := range []struct {
		name string
		rec  schedule.Record
		want string // the code, "" for none
	}{
		{"ordinary work", schedule.Record{ComponentID: "E1", Day: civil.Of(2026, 6, 1), Service: "engine-oil", Hours: 2300, HasHours: true, By: schedule.ByShop}, ""},
		{"a decimal forgotten", schedule.Record{ComponentID: "E1", Day: civil.Of(2026, 6, 1), Service: "impeller", Hours: 999_990, HasHours: true}, schedule.DoubtHours},
		{"700 h in nine months", schedule.Record{ComponentID: "E1", Day: civil.Of(2026, 6, 1), Service: "impeller", Hours: 9300, HasHours: true}, schedule.DoubtHours},
		{"748 h in nine months is a thousand a year", schedule.Record{ComponentID: "E1", Day: civil.Of(2026, 6, 1), Service: "impeller", Hours: 1800 + 7479, HasHours: true}, ""},
		{"the same line twice", schedule.Record{ComponentID: "E1", Day: civil.Of(2025, 9, 1), Service: "engine-oil", By: schedule.ByShop}, schedule.DoubtTwice},
		{"the same record changed", schedule.Record{ID: "r1", ComponentID: "E1", Day: civil.Of(2025, 9, 1), Service: "engine-oil", By: schedule.ByShop}, ""},
		{"1990 on a boat of 2020", schedule.Record{ComponentID: "E1", Day: civil.Of(1990, 6, 1), Service: "impeller"}, schedule.DoubtTooOld},
		{"the summer before the model year", schedule.Record{ComponentID: "E1", Day: civil.Of(2019, 7, 1), Service: "impeller"}, ""},
		{"drive lube on an outboard", schedule.Record{ComponentID: "E1", Day: civil.Of(2026, 6, 1), Service: "drive-lube"}, schedule.DoubtOther},
		{"a lay-up on launch day", schedule.Record{ComponentID: "E1", Day: civil.Of(2026, 5, 15), Service: schedule.LayUp}, schedule.DoubtTooEarly},
		{"a lay-up on July 26", schedule.Record{ComponentID: "E1", Day: civil.Of(2026, 7, 26), Service: schedule.LayUp}, schedule.DoubtTooEarly},
		{"a lay-up on July 27", schedule.Record{ComponentID: "E1", Day: civil.Of(2026, 7, 27), Service: schedule.LayUp}, ""},
		{"a lay-up in March, for the winter before", schedule.Record{ComponentID: "E1", Day: civil.Of(2026, 3, 1), Service: schedule.LayUp}, ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			f := doubtful()
			c.rec.BoatID = "FINCH"
			got := p.DoubtRecord(&f, c.rec, 6)
			switch {
			case c.want == "" && len(got) > 0:
				t.Errorf("doubted: %+v", got)
			case c.want != "" && (len(got) != 1 || got[0].Code != c.want):
				t.Errorf("doubts %+v, want %q", got, c.want)
			}
		})
	}
}

func TestDoubtfulReadings(t *testing.T) {
	p := usualPlanner(t)
	f := doubtful()
	for _, c := range []struct {
		name string
		r    schedule.Reading
		want int
	}{
		{"99,999 h", schedule.Reading{ComponentID: "E1", Day: civil.Of(2026, 6, 1), Hours: 999_990}, 1},
		{"a new meter near zero", schedule.Reading{ComponentID: "E1", Day: civil.Of(2026, 6, 1), Hours: 5, NewMeter: true}, 0},
		{"another engine has no reading yet", schedule.Reading{ComponentID: "E2", Day: civil.Of(2026, 6, 1), Hours: 30_000}, 0},
		{"100 h on the next day may be a second look", schedule.Reading{ComponentID: "E1", Day: civil.Of(2025, 9, 2), Hours: 2800}, 0},
		{"101 h on the next day", schedule.Reading{ComponentID: "E1", Day: civil.Of(2025, 9, 2), Hours: 2810}, 1},
	} {
		t.Run(c.name, func(t *testing.T) {
			if got := p.DoubtReading(&f, c.r); len(got) != c.want {
				t.Errorf("%+v, want %d doubts", got, c.want)
			}
		})
	}
}

func TestDoubtfulBookings(t *testing.T) {
	p := usualPlanner(t)
	layUp := schedule.Visit{Kind: schedule.LayUp, Deadline: civil.Of(2026, 10, 10)}
	fitOut := schedule.Visit{Kind: schedule.FitOut, Deadline: civil.Of(2027, 5, 15)}
	for _, c := range []struct {
		name       string
		v          schedule.Visit
		day, today civil.Day
		want       int
	}{
		{"a lay-up on its last good day", layUp, civil.Of(2026, 10, 10), civil.Of(2026, 9, 1), 0},
		{"a lay-up on November 30", layUp, civil.Of(2026, 11, 30), civil.Of(2026, 9, 1), 1},
		{"a lay-up that is late already", layUp, civil.Of(2026, 11, 30), civil.Of(2026, 11, 25), 0},
		{"a fit-out two weeks after launch day", fitOut, civil.Of(2027, 5, 29), civil.Of(2026, 11, 25), 0},
		{"next spring's fit-out in June", fitOut, civil.Of(2027, 6, 10), civil.Of(2026, 11, 25), 1},
		{"a service visit has no last good day to miss", schedule.Visit{Kind: schedule.Extra, Deadline: civil.Of(2026, 7, 1)}, civil.Of(2026, 8, 1), civil.Of(2026, 6, 1), 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			if got := p.DoubtBooking(&c.v, c.day, c.today); len(got) != c.want {
				t.Errorf("%+v, want %d doubts", got, c.want)
			}
		})
	}
}

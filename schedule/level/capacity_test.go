package level_test

import (
	"slices"
	"testing"

	"pgregory.net/rapid"

	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/level"
)

// twoTechnicians is a shop that works Monday to Friday; Ada 8 hours a day, Ben
// 6 hours and on Saturdays too, when the shop is closed.
func twoTechnicians() level.Shop {
	return level.Shop{
		Technicians: []level.Technician{
			{"Ada", [7]int{0, 480, 480, 480, 480, 480, 0}},
			{"Ben", [7]int{0, 360, 360, 360, 360, 360, 360}},
		},
		Open:      [7]bool{false, true, true, true, true, true, false},
		Allowance: 50,
	}
}

func TestCapacity(t *testing.T) {
	monday := civil.Of(2027, 5, 3)
	for _, c := range []struct {
		name   string
		change func(*level.Shop)
		want   int // minutes in the week of 3 May 2027
	}{
		{"a plain week, half of it sold", func(*level.Shop) {}, 5 * (480 + 360) / 2},
		{"all of it sold", func(s *level.Shop) { s.Allowance = 100 }, 5 * (480 + 360)},
		{"the default: 6 of 8 hours", func(s *level.Shop) { s.Allowance = 0 }, 5 * (360 + 270)},
		{"a holiday", func(s *level.Shop) { s.Holidays = []civil.Day{monday + 2} }, 4 * (480 + 360) / 2},
		{"a holiday given twice and one on a Sunday", func(s *level.Shop) {
			s.Holidays = []civil.Day{monday + 6, monday + 2, monday + 2}
		}, 4 * (480 + 360) / 2},
		{"Ada away Thursday to Monday", func(s *level.Shop) {
			s.Absences = []level.Absence{{"Ada", monday + 3, monday + 7}}
		}, (3*(480+360) + 2*360) / 2},
		{"Ada away twice at once", func(s *level.Shop) {
			s.Absences = []level.Absence{{"Ada", monday, monday}, {"Ada", monday, monday}}
		}, (4*(480+360) + 360) / 2},
		{"away on a holiday", func(s *level.Shop) {
			s.Holidays = []civil.Day{monday}
			s.Absences = []level.Absence{{"Ben", monday, monday}}
		}, 4 * (480 + 360) / 2},
		{"open on Saturdays", func(s *level.Shop) { s.Open[6] = true }, (5*(480+360) + 360) / 2},
		{"asked on Thursday", func(s *level.Shop) { s.NotBefore = monday + 3 }, 2 * (480 + 360) / 2},
		{"asked on Sunday", func(s *level.Shop) { s.NotBefore = monday + 6 }, 0},
		{"nobody works here", func(s *level.Shop) { s.Technicians = nil }, 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := twoTechnicians()
			c.change(&s)
			weeks := s.Weeks(monday.Week(), monday.Week()+1)
			if len(weeks) != 2 || weeks[0].Week != monday.Week() || weeks[1].Week != monday.Week()+1 {
				t.Fatalf("got weeks %+v, want two from %s", weeks, monday.Week())
			}
			if labor(weeks[0]) != c.want || booked(weeks[0]) != 0 {
				t.Errorf("got %+v, want %d minutes and nothing booked", weeks[0], c.want)
			}
		})
	}
}

// Whatever the shop, its weeks hold what counting day by day and person by
// person would say.
func TestCapacityIsTheSumOfItsDays(t *testing.T) {
	monday := civil.Of(2027, 5, 3)
	rapid.Check(t, func(t *rapid.T) {
		s := drawStaff(t, monday)
		for _, w := range s.Weeks(monday.Week(), monday.Week()+3) {
			minutes := 0
			for d := max(w.Week.Monday(), s.NotBefore); d <= w.Week.Sunday(); d++ {
				for _, who := range s.Technicians {
					away := slices.ContainsFunc(s.Absences, func(a level.Absence) bool { return a.Technician == who.Name && a.From <= d && d <= a.To })
					if s.Open[d.Weekday()] && !slices.Contains(s.Holidays, d) && !away {
						minutes += max(who.Minutes[d.Weekday()], 0)
					}
				}
			}
			if want := minutes * s.Allowance / 100; labor(w) != want {
				t.Fatalf("%s holds %d minutes, want %d", w.Week, labor(w), want)
			}
		}
	})
}

// drawStaff draws a shop with faults too: names twice, absences of nobody, and
// such as end before they start.
func drawStaff(t *rapid.T, monday civil.Day) level.Shop {
	name := rapid.SampledFrom([]string{"Ada", "Ben", "Cleo"})
	day := rapid.Custom(func(t *rapid.T) civil.Day { return monday + civil.Day(rapid.IntRange(-10, 40).Draw(t, "day")) })
	s := level.Shop{Allowance: rapid.IntRange(1, 100).Draw(t, "allowance"), Holidays: rapid.SliceOfN(day, 0, 4).Draw(t, "holidays")}
	for d := range s.Open {
		s.Open[d] = rapid.Bool().Draw(t, "open")
	}
	for range rapid.IntRange(0, 4).Draw(t, "technicians") {
		who := level.Technician{Name: name.Draw(t, "name")}
		for d := range who.Minutes {
			who.Minutes[d] = rapid.IntRange(-10, 500).Draw(t, "minutes")
		}
		s.Technicians = append(s.Technicians, who)
	}
	for range rapid.IntRange(0, 5).Draw(t, "absences") {
		s.Absences = append(s.Absences, level.Absence{Technician: name.Draw(t, "who"), From: day.Draw(t, "from"), To: day.Draw(t, "to")})
	}
	if rapid.Bool().Draw(t, "asked in the middle") {
		s.NotBefore = day.Draw(t, "not before")
	}
	return s
}

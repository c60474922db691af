package app_test

import (
	"encoding/csv"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strconv"
	"testing"
	"time"

	"bellbuoy/cmd/bellbuoy/internal/app"
	"bellbuoy/cmd/bellbuoy/internal/demo"
	"bellbuoy/notify"
	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/climate/watch"
	"bellbuoy/schedule/testkit"
	"bellbuoy/store/storetest"
)

// seasonAssumptions is the model of the replayed season. It is no promise.
const seasonAssumptions = `Assumed: 60 boats on trailers and lifts (sterndrives, inboards, outboards), one technician with six hours a day for
sale; the season of New York 2014 (daily series of vega-datasets), moved to 2026; the last day for winterization is
November 24, by which it has frozen hard in half of the record's four autumns, so that this fall's first hard freeze
(November 18) comes before it. 70% of owners bring the boat on the day that the plan means
for it, the others on a random day up to 60 days after. When an owner hears of a freeze by email or call, 60% bring the
boat the next day; the shop takes those in the order of danger until the day's hours end, before all others. Forecasts at
seven each morning, five nights ahead, with errors of the stated size (sigma 2 to 3.5 °C, seed 1). A boat that is at risk in
a night of four hours at or below -2.2 °C is damaged, once.`

// recorded reads the lows and highs of New York's autumn 2014, as days of 2026.
func recorded(t *testing.T) map[civil.Day][2]float64 {
	t.Helper()
	file, err := os.Open(filepath.Join(os.Getenv("BELLBUOY_NPM"), "node_modules", "vega-datasets", "data", "weather.csv"))
	testkit.Needs(t, err == nil, "vega-datasets in the folder that BELLBUOY_NPM names")
	defer file.Close()
	rows, err := csv.NewReader(file).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	out := make(map[civil.Day][2]float64)
	for _, r := range rows[1:] {
		day, err := civil.Parse(r[1][:10])
		if err != nil || r[0] != "New York" || day.Year() != 2014 {
			continue
		}
		high, err1 := strconv.ParseFloat(r[3], 64)
		low, err2 := strconv.ParseFloat(r[4], 64)
		if err1 != nil || err2 != nil {
			t.Fatalf("%q", r)
		}
		_, m, d := day.Date()
		out[civil.Of(2026, m, d)] = [2]float64{low, high}
	}
	return out
}

// season is one replayed season.
type season struct {
	*freezeShop
	rng     *rand.Rand // of the owners: the same people with the watch and without
	days    map[civil.Day][2]float64
	late    map[string]int       // days by which an owner comes after the plan's day
	wanted  map[string]civil.Day // when the boat was to come
	rushed  map[string]civil.Day // owners who react to a freeze, and the day on which they come
	decided map[string]bool
	done    map[string]bool
	damaged map[string]civil.Day
	heard   int
}

func (s *season) day(d civil.Day) (low, high float64) { return s.days[d][0], s.days[d][1] }

// work takes the day's boats: who reacted to a freeze in the order of danger, then
// who comes by the plan.
func (s *season) work(now time.Time, order []app.FreezeBoat) {
	s.t.Helper()
	today := s.Day(now)
	if wd := today.Weekday(); wd == time.Saturday || wd == time.Sunday {
		return
	}
	left := 360
	take := func(id string, minutes int) {
		if s.done[id] || minutes > left {
			return
		}
		left -= minutes
		s.done[id] = true
		_, err := s.Writer().AddRecord(s.t.Context(), now, "test", schedule.Record{BoatID: id, Day: today, Service: schedule.LayUp, By: schedule.ByShop})
		s.must(err)
	}
	for _, b := range order {
		if from, ok := s.rushed[b.Boat.ID]; ok && today >= from {
			take(b.Boat.ID, max(b.Minutes, 60))
		}
	}
	for i := range 60 {
		if id := fmt.Sprintf("B%02d", i); s.wanted[id] != 0 && today >= s.wanted[id]+civil.Day(s.late[id]) {
			take(id, 100)
		}
	}
}

// react lets owners who hear today decide, once for each freeze.
func (s *season) react(now time.Time, p *app.FreezePlace) {
	if p.Event == nil {
		return
	}
	for _, b := range p.Boats {
		key := fmt.Sprintf("%s/%d", b.Owner.ID, p.Event.ID)
		if s.decided[key] || b.Telling.Way == notify.FreezeEnough {
			continue
		}
		s.decided[key] = true
		s.heard++
		if rand.New(rand.NewPCG(7, uint64(s.heard))).Float64() < 0.6 {
			s.rushed[b.Boat.ID] = s.Day(now) + 1
		}
	}
}

func replaySeason(t *testing.T, days map[civil.Day][2]float64, watching bool) *season {
	t.Helper()
	s := &season{freezeShop: newFreezeShopBy(t, "11-24", 60, "[freeze]\nemails = true\n"), rng: rand.New(rand.NewPCG(2, 0)), days: days,
		late: map[string]int{}, wanted: map[string]civil.Day{}, rushed: map[string]civil.Day{}, decided: map[string]bool{}, done: map[string]bool{}, damaged: map[string]civil.Day{}}
	start := at("2026-09-21 07:00")
	for i := range 60 {
		id := fmt.Sprintf("B%02d", i)
		if s.rng.Float64() >= 0.7 {
			s.late[id] = 1 + s.rng.IntN(60)
		}
		if kind := i % 3; kind > 0 {
			f, err := s.DB.Facts(t.Context(), id)
			s.must(err)
			e := f.Components[0]
			e.Attr.Propulsion = []string{"", "inboard", "outboard"}[kind]
			s.must(storetest.SaveComponent(t.Context(), s.Writer(), start, "test", e))
		}
	}
	s.must(s.SwitchSending(t.Context(), start, "desk", true))
	errors := rand.New(rand.NewPCG(1, 0))
	limits := watch.DefaultLimits()
	for now := start; now.Before(at("2026-12-16 07:00")); now = now.AddDate(0, 0, 1) {
		today := s.Day(now)
		s.settle(now)
		for id, w := range s.weeks() { // the day that the plan means: one of its week's, each boat its own
			if s.wanted[id] == 0 && w != 0 && w <= today.Week() {
				n, _ := strconv.Atoi(id[1:])
				s.wanted[id] = max(today, w.Monday()+civil.Day(n%5))
			}
		}
		var order []app.FreezeBoat
		if watching {
			var off [7]float64
			for lead := 1; lead <= 5; lead++ {
				off[lead] = errors.NormFloat64() * limits.Sigma(lead)
			}
			body, err := demo.ForecastOf(now.Add(-time.Hour), today, 5, time.UTC, func(d civil.Day) (low, high float64) {
				low, high = s.day(d)
				e := off[min(max(int(d-today), 0), 5)]
				return low + e, high + e
			})
			s.must(err)
			s.must(os.WriteFile(s.file, body, 0o600))
			s.look(now)
			_, err = s.TellOfFreeze(t.Context(), now)
			s.must(err)
			p := s.place(now)
			s.react(now, &p)
			order = p.Boats
		}
		s.work(now, order)
		s.freezeTonight(now)
	}
	return s
}

// freezeTonight damages what is at risk, if the record says that it freezes hard.
func (s *season) freezeTonight(now time.Time) {
	s.t.Helper()
	night := s.Day(now) + 1
	body, err := demo.ForecastOf(now, s.Day(now), 1, time.UTC, s.day)
	s.must(err)
	f, err := watch.Parse(body)
	s.must(err)
	truth := watch.DefaultLimits()
	truth.SigmaFirst, truth.SigmaFifth = 1e-6, 1e-6
	v := truth.Judge(f.Nights(now, time.UTC, 3)[0])
	if v.Level != watch.Alarm {
		if v.To == 0 || len(f.Spans) == 0 {
			s.t.Fatalf("no truth for %s", night)
		}
		return
	}
	place, err := s.Place(s.t.Context(), "Our lake")
	s.must(err)
	for i := range 60 {
		id := fmt.Sprintf("B%02d", i)
		facts, err := s.DB.Facts(s.t.Context(), id)
		s.must(err)
		facts.Place = place
		// An outboard may stand upright: only what holds water for certain counts.
		e := s.Planner.AtRisk(&facts, s.Day(now), schedule.Freeze{Night: night, Tenths: int(v.Low * 10)})
		if e.Danger != schedule.NoDanger && e.Danger < schedule.DangerTilted && s.damaged[id] == 0 {
			s.damaged[id] = night
		}
	}
}

// TestASeasonWithTheWatchAndWithout replays a season of a real station's record.
func TestASeasonWithTheWatchAndWithout(t *testing.T) {
	days := recorded(t)
	without, with := replaySeason(t, days, false), replaySeason(t, days, true)
	t.Logf("\n%s\n\nboats damaged without the watch: %d of 40 that hold raw water\nboats damaged with it: %d; owners told: %d\nfirst damage without %v, with %v",
		seasonAssumptions, len(without.damaged), len(with.damaged), with.heard, earliest(without.damaged), earliest(with.damaged))
	if len(without.damaged) < 4 || 2*len(with.damaged) > len(without.damaged) {
		t.Errorf("the watch saves nothing: %d without, %d with", len(without.damaged), len(with.damaged))
	}
}

func earliest(days map[string]civil.Day) civil.Day {
	first := civil.Day(0)
	for _, d := range days {
		if first == 0 || d < first {
			first = d
		}
	}
	return first
}

package app_test

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"bellbuoy/cmd/bellbuoy/internal/app"
	"bellbuoy/cmd/bellbuoy/internal/config"
	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/level"
	"bellbuoy/schedule/words"
	"bellbuoy/store"
	"bellbuoy/store/outbox"
	"bellbuoy/store/storetest"
)

// The shop of these cases has one technician of eight hours from Monday to
// Friday: 40 hours clocked, 30 available (75 %), a week filled to 25.5 (85 %), a
// day's 6 hours. The boats are outboards on their owners' docks, sold new on 1
// May 2026. The launch day is 15 May; the lay-up deadline is each case's own.
func workedApp(t *testing.T, layUp string, boats int) *app.App {
	t.Helper()
	return workedAppWith(t, layUp, boats, "")
}

// workedAppWith does so with more settings.
func workedAppWith(t *testing.T, layUp string, boats int, more string) *app.App {
	t.Helper()
	path := filepath.Join(t.TempDir(), "bellbuoy.toml")
	text := fmt.Sprintf(`[shop]
name = "A shop worked by hand"
url = "http://127.0.0.1:8410"

[weeks]
allowance = 0.75
holiday_calendar = ""

[[weeks.technician]]
name = "Tomasz"
hours = [8, 8, 8, 8, 8, 0, 0]

[[place]]
name = "Our lake"
launch = "05-15"
lay_up = %q
`, layUp) + more
	if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	c, err := config.Load(path)
	if err != nil {
		t.Fatal(err)
	}
	a, err := app.Open(t.Context(), c)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { a.Close() })
	at := d("2026-05-01").At(9, 0, c.Zone())
	for i := range boats {
		b := schedule.Boat{ID: fmt.Sprintf("B%02d", i), Name: fmt.Sprintf("Boat %d", i), Year: 2026, Kind: "runabout", LengthFt: 19,
			Water: "fresh", Place: "Our lake", Berth: "own-dock", SoldOn: d("2026-05-01")}
		engine := schedule.Component{ID: b.ID + "-E", BoatID: b.ID, Kind: "engine", InService: b.SoldOn}
		engine.Attr.Propulsion, engine.Attr.Stroke, engine.Attr.Fuel, engine.Attr.Cooling = "outboard", "four", "gasoline", "raw-water"
		if err := storetest.SaveBoat(t.Context(), a.Writer(), at, "test", b); err != nil {
			t.Fatal(err)
		}
		if err := storetest.SaveComponent(t.Context(), a.Writer(), at, "test", engine); err != nil {
			t.Fatal(err)
		}
		// Its hull was looked at before the sale: no lay-up has that to do too.
		hull := schedule.Record{BoatID: b.ID, Day: b.SoldOn, Service: "hull-check", By: schedule.ByBeforeSale}
		if _, err := a.Writer().AddRecord(t.Context(), at, "test", hull); err != nil {
			t.Fatal(err)
		}
	}
	return a
}

// layUps returns the lay-ups of the autumn 2026.
func layUps(t *testing.T, a *app.App) (all []schedule.Visit) {
	t.Helper()
	for _, v := range visits(t, a) {
		if v.Kind == schedule.LayUp && v.Season == 2026 {
			all = append(all, v)
		}
	}
	if len(all) == 0 {
		t.Fatal("no lay-up is planned: the test looks at nothing")
	}
	return all
}

// An idle shop moves nobody. On 1 July three boats want winterizing by Friday, 9
// October. The last good week is that of the 5th; less a week of margin each
// wishes for the week of 28 September, and the three together take less than
// half of its 25.5 hours. The boats are to float on 15 May 2027, a Saturday: each
// fit-out wishes for the week before that week, of 3 May.
func TestWorkedIdleShopLeavesTheSummerAlone(t *testing.T) {
	a := workedApp(t, "10-09", 3)
	settle(t, a, d("2026-07-01"))
	for _, v := range visits(t, a) {
		want := map[string]civil.Day{"lay-up.2026": d("2026-09-28"), "fit-out.2027": d("2027-05-03")}[fmt.Sprintf("%s.%d", v.Kind, v.Season)]
		if want != 0 && v.Week != want.Week() {
			t.Errorf("%s is penciled for the week of %s, want %s", v.ID, v.Week.Monday(), want)
		}
	}
}

// away takes the technician out of some days.
func away(t *testing.T, a *app.App, today, from, to string) {
	t.Helper()
	err := a.Writer().AddAbsence(t.Context(), d(today).At(9, 0, a.Config.Zone()), "test", store.Absence{Technician: "Tomasz", From: d(from), To: d(to)})
	if err != nil {
		t.Fatal(err)
	}
}

// inTimeOf counts the lay-ups that are not at risk.
func inTimeOf(t *testing.T, a *app.App, today string) int {
	t.Helper()
	w, err := a.Fit(t.Context(), d(today))
	if err != nil {
		t.Fatal(err)
	}
	n := len(layUps(t, a))
	for _, v := range w.Of(w.AtRisk) {
		if v.Kind == schedule.LayUp && v.Season == 2026 {
			n--
		}
	}
	return n
}

// Hours before a deadline, with every week before the deadline's own closed, so
// that only the days of that week until the deadline count: six hours each.
func TestWorkedHoursUntilTheDeadline(t *testing.T) {
	for _, c := range []struct {
		name  string
		layUp string
		hours int
	}{
		{"Friday: the shop works on five days until then", "10-09", 30},
		{"Saturday: the same five days", "10-10", 30},
		{"Sunday: the same five days", "10-11", 30},
		{"Wednesday: three days", "10-07", 18},
		{"Monday: one day", "10-05", 6},
	} {
		t.Run(c.name, func(t *testing.T) {
			a := workedApp(t, c.layUp, 24)
			away(t, a, "2026-07-01", "2026-07-01", "2026-10-04")
			settle(t, a, d("2026-07-01"))
			each := layUps(t, a)[0].Labour
			if got, want := inTimeOf(t, a, "2026-07-01"), min(24, c.hours*60/each); got != want {
				t.Errorf("%d lay-ups of %d minutes are in time, want the %d that %d hours hold", got, each, want, c.hours)
			}
		})
	}
}

// The running week has the days that are left. On Thursday, 8 October, with the
// deadline on Friday, 12 hours are left of 30. A lay-up that is recorded that day
// took its time out of them; one recorded on Monday took Monday's.
func TestWorkedRunningWeek(t *testing.T) {
	for _, c := range []struct {
		name   string
		record string
		taken  int // lay-ups worth of hours
	}{{"nothing recorded", "", 0}, {"one recorded on Monday", "2026-10-05", 0}, {"one recorded today", "2026-10-08", 1}} {
		t.Run(c.name, func(t *testing.T) {
			a := workedApp(t, "10-09", 16)
			if c.record != "" {
				r := schedule.Record{BoatID: "B00", Day: d(c.record), Service: "lay-up", By: schedule.ByShop}
				if _, err := a.Writer().AddRecord(t.Context(), d(c.record).At(17, 0, a.Config.Zone()), "test", r); err != nil {
					t.Fatal(err)
				}
			}
			settle(t, a, d("2026-10-08"))
			each := layUps(t, a)[0].Labour
			want := 720 / each
			if c.taken > 0 {
				lay := 75 // minutes of an outboard's lay-up in the catalog, its own line alone
				want = (720 - lay) / each
			}
			if got := inTimeOf(t, a, "2026-10-08"); got != want {
				t.Errorf("%d lay-ups of %d minutes are in time, want %d", got, each, want)
			}
		})
	}
}

// On Tuesday, 20 October, three boats are overdue since the 9th. All weeks are
// empty: each goes into the running week, not "for the next free place" weeks
// later, as spreading the load would have it.
func TestWorkedOverdueComesAtOnce(t *testing.T) {
	a := workedApp(t, "10-09", 3)
	settle(t, a, d("2026-10-20"))
	for _, v := range layUps(t, a) {
		if v.Week != d("2026-10-20").Week() {
			t.Errorf("%s is penciled for the week of %s, want the running week", v.ID, v.Week.Monday())
		}
	}
}

// An earlier version had penciled three lay-ups for August. One owner was told
// so. At the first plan after the update that one keeps its week and the two
// others go where they wish to be, the week of 28 September; check says so before
// anything is planned. After it nothing moves any more.
func TestWorkedUpdateLeavesWhoWasTold(t *testing.T) {
	a := workedApp(t, "10-09", 3)
	today := d("2026-07-01")
	settle(t, a, today)
	august := d("2026-08-31").Week()
	var weeks []store.Week
	for _, v := range layUps(t, a) {
		weeks = append(weeks, store.Week{VisitID: v.ID, Week: august})
	}
	if _, err := a.Writer().SaveWeeks(t.Context(), weeks); err != nil {
		t.Fatal(err)
	}
	told := schedule.Notified{CustomerID: "C", Subject: "B01.lay-up.2026", Step: schedule.StepInvitation, On: today, Week: august}
	at := today.At(9, 0, a.Config.Zone())
	if err := storetest.SaveCustomer(t.Context(), a.Writer(), at, "test", schedule.Customer{ID: "C", Name: "Odalys"}); err != nil {
		t.Fatal(err)
	}
	if err := outbox.RecordNotified(t.Context(), a.Writer(), at, "test", []schedule.Notified{told}); err != nil {
		t.Fatal(err)
	}
	if err := a.Writer().SetSetting(t.Context(), "weeks-filled", []byte("otherwise")); err != nil {
		t.Fatal(err)
	}
	findings, err := a.Check(t.Context(), today)
	if err != nil {
		t.Fatal(err)
	}
	if all := strings.Join(findings, "\n"); !strings.Contains(all, "the next plan moves 2 of them") || !strings.Contains(all, "Of the 1 whose customers were told a week, 0 must move") {
		t.Errorf("check does not say how many move:\n%s", all)
	}
	if _, err := a.Pencil(t.Context(), today); err != nil {
		t.Fatal(err)
	}
	for _, v := range layUps(t, a) {
		want := d("2026-09-28").Week()
		if v.Told {
			want = august
		}
		if v.Week != want {
			t.Errorf("%s (told %v) is penciled for the week of %s, want %s", v.ID, v.Told, v.Week.Monday(), want.Monday())
		}
	}
	if moved, err := a.Pencil(t.Context(), today+1); err != nil || len(moved) > 0 {
		t.Errorf("%v moved a day later, %v", moved, err)
	}
}

// Why a visit lies in another week than the one that suits it, kept with it and
// said in one sentence. Twelve lay-ups of 75 minutes wish for the week of 28
// September. The technician is away on all of its days but one: 6 hours, of which
// the target is 5.1 and holds four. The others go to the week of 21 September, a
// week early, and say so. Then he is away in that week too: they move, and say
// which week they had. A night later the reason is still there.
func TestWorkedWhyItMoved(t *testing.T) {
	a := workedApp(t, "10-09", 12)
	today := d("2026-07-01")
	away(t, a, "2026-07-01", "2026-09-29", "2026-10-02")
	settle(t, a, today)
	count := func(want map[string]int) {
		t.Helper()
		got := make(map[string]int)
		for _, v := range layUps(t, a) {
			got[v.Week.Monday().String()+" "+v.WeekReason(words.Format{})]++
		}
		for words, n := range want {
			if got[words] != n {
				t.Errorf("%d lay-ups say %q, want %d; all say %v", got[words], words, n, got)
			}
		}
	}
	const full = "The week of September 28, 2026 would suit it best but was full or closed; this is the nearest one."
	count(map[string]int{"2026-09-28 ": 4, "2026-09-21 " + full: 8})
	away(t, a, "2026-07-01", "2026-09-21", "2026-09-25")
	const had = "It was penciled in for the week of September 21, 2026 before, which has too few hours left."
	for day := range civil.Day(2) {
		if _, err := a.Pencil(t.Context(), today+day); err != nil {
			t.Fatal(err)
		}
		count(map[string]int{"2026-09-28 ": 4, "2026-09-14 " + had: 8})
	}
}

// A deadline on Monday, 12 October, a holiday: the last good week is that of the
// 5th, and less a week of margin each lay-up wishes for the week of 28 September.
// On a Monday on which the shop works it is the week of 5 October.
func TestWorkedMondayDeadline(t *testing.T) {
	for _, c := range []struct {
		name    string
		holiday bool
		week    string
	}{{"a holiday", true, "2026-09-28"}, {"a working day", false, "2026-10-05"}} {
		t.Run(c.name, func(t *testing.T) {
			a := workedApp(t, "10-12", 3)
			today := d("2026-07-01")
			if c.holiday {
				if err := a.Writer().CloseDay(t.Context(), today.At(9, 0, a.Config.Zone()), "test", store.ClosedDay{Day: d("2026-10-12"), Why: "holiday"}); err != nil {
					t.Fatal(err)
				}
			}
			settle(t, a, today)
			for _, v := range layUps(t, a) {
				if v.Week != d(c.week).Week() {
					t.Errorf("%s is penciled for the week of %s, want %s", v.ID, v.Week.Monday(), c.week)
				}
			}
		})
	}
}

// On Monday, 3 August, a recheck of half an hour is due that day at the latest.
// The desk had put it into the week of 21 September and lets go of that. The 13
// others penciled for the running week take 6.5 hours and Monday has 6, but they
// may wait until Friday: the recheck comes today, at once and not in the night.
func TestWorkedDueTodayAmongOthersThatCanWait(t *testing.T) {
	a := workedApp(t, "10-09", 14)
	today := d("2026-08-03")
	at := today.At(9, 0, a.Config.Zone())
	for i := range 14 {
		due := d("2026-07-24") // closes 14 days later, on Friday
		if i == 0 {
			due = d("2026-07-20")
		}
		f := schedule.FollowUp{BoatID: fmt.Sprintf("B%02d", i), ComponentID: fmt.Sprintf("B%02d-E", i), Service: "recheck", Title: "Look again", Due: due, Raised: d("2026-06-20"), Finding: "A drop of oil."}
		if err := a.Writer().RecordWork(t.Context(), at, "test", "", store.Work{BoatID: f.BoatID, FollowUps: []schedule.FollowUp{f}}); err != nil {
			t.Fatal(err)
		}
	}
	settle(t, a, today)
	recheck := func() (v schedule.Visit) {
		for _, v := range visits(t, a) {
			if v.BoatID == "B00" && v.Kind == schedule.Extra && v.Close == today {
				return v
			}
		}
		t.Fatal("no visit for the recheck")
		return v
	}
	for _, c := range []struct{ pin, want civil.Week }{{d("2026-09-21").Week(), d("2026-09-21").Week()}, {0, today.Week()}} {
		if err := a.Writer().Pin(t.Context(), at, "test", recheck().ID, c.pin); err != nil {
			t.Fatal(err)
		}
		settle(t, a, today)
		if v := recheck(); v.Week != c.want {
			t.Errorf("%s is penciled for the week of %s, want %s", v.ID, v.Week.Monday(), c.want.Monday())
		}
	}
}

// The lift hauls one boat a day, five a week, of which the target is four (85 %,
// rounded down); hauling takes the crew 30 minutes and launching 45. Hours are
// plenty. Twelve boats wish for the week of 28 September: four come then, four in
// the week of the 21st and four in that of the 14th, as a week late costs as much
// as three early. A fifth may be booked for the week of the 28th and a sixth not.
func TestWorkedLiftsLimitWeeks(t *testing.T) {
	const yard = `
[yard]
lifts = [1, 1, 1, 1, 1, 0, 0]
crew_hours = [8, 8, 8, 8, 8, 0, 0]
[[yard.work]]
haul = 30
launch = 45
`
	a := workedAppWith(t, "10-09", 12, yard)
	today := d("2026-07-01")
	settle(t, a, today)
	got := make(map[string]int)
	var early []schedule.Visit
	for _, v := range layUps(t, a) {
		got[v.Week.Monday().String()]++
		if v.Yard != 30 || v.Lifts != 1 {
			t.Errorf("%s takes %d minutes of the yard and %d lifts", v.ID, v.Yard, v.Lifts)
		}
		if v.Week == d("2026-09-14").Week() {
			early = append(early, v)
		}
	}
	if got["2026-09-28"] != 4 || got["2026-09-21"] != 4 || got["2026-09-14"] != 4 {
		t.Fatalf("lay-ups by week: %v", got)
	}
	loads, err := a.DB.WeekLoads(t.Context(), d("2026-09-28").Week(), d("2026-09-28").Week())
	if err != nil || len(loads) != 1 || loads[0].Pencilled[level.Yard] != 120 || loads[0].Pencilled[level.Lifts] != 4 {
		t.Errorf("kept load %+v, %v", loads, err)
	}
	for i, v := range early[:2] {
		b := schedule.Booking{BoatID: v.BoatID, VisitID: v.ID, Kind: v.Kind, Day: d("2026-09-28") + civil.Day(i), Minute: 540}
		_, err := a.Book(t.Context(), today.At(9, 0, a.Config.Zone()), "test", b, nil, true)
		if i == 0 && err != nil {
			t.Error(err)
		}
	}
	// What is only penciled there yields to a booking; five booked lifts do not.
	booked := 0
	for _, v := range layUps(t, a) {
		if v.Booked() {
			booked++
			continue
		}
		b := schedule.Booking{BoatID: v.BoatID, VisitID: v.ID, Kind: v.Kind, Day: d("2026-09-30"), Minute: 540}
		_, err := a.Book(t.Context(), today.At(9, 0, a.Config.Zone()), "test", b, nil, true)
		full := (*app.FullWeek)(nil)
		switch {
		case booked < 5 && err == nil:
			booked++
		case !errors.As(err, &full) || !strings.Contains(err.Error(), "the lift is full in the week of September 28, 2026: 5 of 5"):
			t.Fatalf("with %d booked: %v", booked, err)
		}
	}
	if booked != 5 {
		t.Errorf("%d lay-ups are booked for that week, want 5", booked)
	}
}

// On Thursday, 8 October, with the deadline on Friday, the lift has two moves left
// of its five and the crew 16 hours of 40, an hour of them for each haul-out. What is
// recorded that day took its move and its hour, once; what was on Monday took
// Monday's.
func TestWorkedHaulsOfTheRunningWeek(t *testing.T) {
	const yard = `
[yard]
lifts = [1, 1, 1, 1, 1, 0, 0]
crew_hours = [8, 8, 8, 8, 8, 0, 0]
[[yard.work]]
haul = 60
launch = 45
`
	for _, c := range []struct {
		name, day, service string
		crew, lifts        int // left from Thursday on
		inTime             int
	}{
		{"nothing recorded", "", "", 960, 2, 2},
		{"a winterization on Monday", "2026-10-05", "lay-up", 960, 2, 2},
		{"a winterization today", "2026-10-08", "lay-up", 900, 1, 1},
		{"a haul-out today", "2026-10-08", "haul-out", 900, 1, 1},
		{"a launch today", "2026-10-08", "launch", 915, 1, 1},
		{"an oil change today", "2026-10-08", "engine-oil", 960, 2, 2},
	} {
		t.Run(c.name, func(t *testing.T) {
			a := workedAppWith(t, "10-09", 8, yard)
			today := d("2026-10-08")
			if c.day != "" {
				r := schedule.Record{BoatID: "B00", Day: d(c.day), Service: c.service, By: schedule.ByShop}
				if c.service == "engine-oil" {
					r.ComponentID = "B00-E"
				}
				if _, err := a.Writer().AddRecord(t.Context(), d(c.day).At(17, 0, a.Config.Zone()), "test", r); err != nil {
					t.Fatal(err)
				}
			}
			settle(t, a, today)
			weeks, err := a.CapacityLeft(t.Context(), today, today.Week(), today.Week())
			if err != nil {
				t.Fatal(err)
			}
			if left := weeks[0].Total(); left[level.Yard] != c.crew || left[level.Lifts] != c.lifts {
				t.Errorf("%d minutes of the crew and %d lifts are left, want %d and %d", left[level.Yard], left[level.Lifts], c.crew, c.lifts)
			}
			if got := inTimeOf(t, a, today.String()); got != c.inTime {
				t.Errorf("%d lay-ups are in time, want %d", got, c.inTime)
			}
		})
	}
}

// A boat in our yard whose owner agrees to winter work: the anodes and what else is
// done cold go to the middle of the winter, and its lay-up takes less of October.
// Taking the word back puts all of it into the lay-up again.
func TestWorkedWinterWorkRelievesOctober(t *testing.T) {
	a := workedApp(t, "10-09", 1)
	today := d("2026-07-01")
	at := today.At(9, 0, a.Config.Zone())
	b, err := a.DB.Boat(t.Context(), "B00")
	if err != nil {
		t.Fatal(err)
	}
	b.Berth = "shop-outside"
	if err := storetest.SaveBoat(t.Context(), a.Writer(), at, "test", b); err != nil {
		t.Fatal(err)
	}
	r := schedule.Record{BoatID: "B00", ComponentID: "B00-E", Day: d("2023-10-01"), Service: "impeller", By: schedule.ByBeforeSale}
	if _, err := a.Writer().AddRecord(t.Context(), at, "test", r); err != nil {
		t.Fatal(err)
	}
	settle(t, a, today)
	sum := func() (minutes int) {
		all := visits(t, a)
		return all["B00.lay-up.2026"].Labour + all["B00.winter.2026"].Labour + all["B00.fit-out.2027"].Labour
	}
	whole, all := layUps(t, a)[0].Labour, sum()
	for _, agrees := range []bool{true, false} {
		if _, err := a.SetWinterWork(t.Context(), at, "test", "B00", agrees); err != nil {
			t.Fatal(err)
		}
		w, planned := visits(t, a)["B00.winter.2026"]
		if planned != agrees || agrees && (w.Week != d("2027-01-15").Week() || w.Labour < 30) {
			t.Errorf("agreed %v: winter work %v for the week of %s, %d minutes", agrees, planned, w.Week.Monday(), w.Labour)
		}
		if got := layUps(t, a)[0].Labour; agrees && got > whole-30 || !agrees && got != whole || sum() != all {
			t.Errorf("agreed %v: the lay-up takes %d minutes of %d, all three visits %d of %d", agrees, got, whole, sum(), all)
		}
	}
}

// The weeks in sight reach 78 weeks ahead. Planned week by week from March 2026 on,
// the winterization of October 2027 comes into sight with its first week, at the end
// of August 2027, when none of the better ones can be seen. It is not penciled into
// that week, to be kept there for good: once its wish is in sight, a week before
// that of Saturday, 9 October, it is penciled for that, the week of 27 September.
func TestWorkedEdgeOfSight(t *testing.T) {
	a := workedApp(t, "10-09", 2)
	for today := d("2026-03-02"); today < d("2026-06-01"); today += 7 {
		settle(t, a, today)
	}
	seen := 0
	for _, v := range visits(t, a) {
		if v.Kind == schedule.LayUp && v.Season == 2027 {
			seen++
			if v.Week != d("2027-09-27").Week() {
				t.Errorf("%s is penciled for the week of %s, want 2027-09-27", v.ID, v.Week.Monday())
			}
		}
	}
	if seen != 2 {
		t.Errorf("%d winterizations of 2027 are planned, want 2", seen)
	}
}

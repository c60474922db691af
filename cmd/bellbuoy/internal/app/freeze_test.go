package app_test

import (
	"context"
	"encoding/json"
	"fmt"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"bellbuoy/cmd/bellbuoy/internal/app"
	"bellbuoy/cmd/bellbuoy/internal/config"
	"bellbuoy/notify"
	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/climate"
	"bellbuoy/schedule/climate/watch"
	"bellbuoy/schedule/words"
	"bellbuoy/store/freeze"
	"bellbuoy/store/outbox"
	"bellbuoy/store/storetest"
)

// The freeze shop: one technician of eight hours, Monday to Friday, a week of 30
// hours for sale, a day of 6. Its boats are sterndrives with raw-water cooling on
// their trailers, each with an owner; the last day for winterization is October
// 30. The forecast is a file.
type freezeShop struct {
	*app.App
	t    *testing.T
	file string
}

func newFreezeShop(t *testing.T, boats int, more string) *freezeShop {
	t.Helper()
	return newFreezeShopBy(t, "10-30", boats, more)
}

// newFreezeShopBy does so with another last day for winterization.
func newFreezeShopBy(t *testing.T, by string, boats int, more string) *freezeShop {
	t.Helper()
	dir := t.TempDir()
	text := more + `
[shop]
name = "A shop worked by hand"
address = "1 Dock Street"
url = "http://127.0.0.1:8410"
email = "desk@example.com"
owner_email = "owner@example.com"
time_zone = "UTC"
[mail]
from = "A shop <desk@example.com>"
[weeks]
allowance = 0.75
holiday_calendar = ""
[[weeks.technician]]
name = "Tomasz"
hours = [8, 8, 8, 8, 8, 0, 0]
[[place]]
name = "Our lake"
launch = "05-15"
winterize_by = "` + by + `"
forecast = "forecast.json"
`
	path := filepath.Join(dir, "bellbuoy.toml")
	if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	c, err := config.Load(path)
	if err != nil {
		t.Fatal(err)
	}
	s := &freezeShop{openConfig(t, c), t, filepath.Join(dir, "forecast.json")}
	at := d("2026-05-01").At(9, 0, time.UTC)
	for i := range boats {
		s.addBoat(at, i)
	}
	return s
}

func (s *freezeShop) must(err error) {
	s.t.Helper()
	if err != nil {
		s.t.Fatal(err)
	}
}

func (s *freezeShop) addBoat(at time.Time, i int) {
	s.t.Helper()
	b := schedule.Boat{ID: fmt.Sprintf("B%02d", i), Name: fmt.Sprintf("Boat %d", i), Year: 2026, Kind: "runabout", LengthFt: 19,
		Water: "fresh", Place: "Our lake", Berth: "trailer-home", SoldOn: d("2026-05-01")}
	engine := schedule.Component{ID: b.ID + "-E", BoatID: b.ID, Kind: "engine", InService: b.SoldOn}
	engine.Attr.Propulsion, engine.Attr.Stroke, engine.Attr.Fuel, engine.Attr.Cooling = "sterndrive", "four", "gasoline", "raw-water"
	c := schedule.Customer{ID: fmt.Sprintf("C%02d", i), Name: fmt.Sprintf("Owner %d", i), Email: fmt.Sprintf("owner%d@example.com", i), Phone: "555-0100", ContactBy: "email"}
	ctx := s.t.Context()
	s.must(storetest.SaveBoat(ctx, s.Writer(), at, "test", b))
	s.must(storetest.SaveComponent(ctx, s.Writer(), at, "test", engine))
	s.must(storetest.SaveCustomer(ctx, s.Writer(), at, "test", c))
	s.must(storetest.SetOwner(ctx, s.Writer(), at, "test", b.ID, c.ID, d("2026-05-01")))
}

// forecast writes a forecast: nights of so many degrees from midnight to eight in
// the morning, one after the other from the night to the day after its issue, and
// days of 8 degrees.
func (s *freezeShop) forecast(issued time.Time, lows ...float64) {
	s.t.Helper()
	type value struct {
		ValidTime string  `json:"validTime"`
		Value     float64 `json:"value"`
	}
	var values []value
	at := civil.FromTime(issued).At(12, 0, time.UTC)
	for _, low := range lows {
		values = append(values, value{at.Format(time.RFC3339) + "/PT12H", 8}, value{at.Add(12*time.Hour).Format(time.RFC3339) + "/PT8H", low},
			value{at.Add(20*time.Hour).Format(time.RFC3339) + "/PT4H", 8})
		at = at.Add(24 * time.Hour)
	}
	body, err := json.Marshal(map[string]any{"properties": map[string]any{
		"updateTime": issued.Format(time.RFC3339), "temperature": map[string]any{"uom": "wmoUnit:degC", "values": values}}})
	s.must(err)
	s.must(os.WriteFile(s.file, body, 0o600))
}

// look reads the forecast and judges it.
func (s *freezeShop) look(now time.Time) {
	s.t.Helper()
	_, err := s.Settle(s.t.Context(), now, s.Day(now), nil)
	s.must(err)
	s.must(s.FetchForecasts(s.t.Context(), now))
	s.must(s.JudgeForecasts(s.t.Context(), now))
}

func (s *freezeShop) place(now time.Time) app.FreezePlace {
	s.t.Helper()
	all, err := s.FreezeWatch(s.t.Context(), now, app.FreezeTellings)
	s.must(err)
	if len(all) != 1 {
		s.t.Fatalf("%d places", len(all))
	}
	return all[0]
}

func (s *freezeShop) weeks() map[string]civil.Week {
	s.t.Helper()
	out := make(map[string]civil.Week)
	s.must(s.DB.EachVisit(s.t.Context(), func(v schedule.Visit) error {
		if v.Kind == schedule.LayUp && v.Season == 2026 {
			out[v.BoatID] = v.Week
		}
		return nil
	}))
	return out
}

func at(s string) time.Time {
	t, err := time.Parse("2006-01-02 15:04", s)
	if err != nil {
		panic(err)
	}
	return t
}

// Wednesday, October 7, -4 in the night to Saturday: the running week. Nothing is
// leveled; the desk gets the boats, and where the hours end.
func TestFreezeOfTheRunningWeekIsAList(t *testing.T) {
	s := newFreezeShop(t, 12, "")
	now := at("2026-10-07 07:00")
	s.forecast(now.Add(-time.Hour), 6, 6, -4, 6)
	if _, err := s.Settle(t.Context(), now, s.Day(now), nil); err != nil {
		t.Fatal(err)
	}
	before := s.weeks()
	s.look(now)
	p := s.place(now)
	if p.Level != watch.Alarm || p.Event == nil || p.Event.Brings != 0 || p.Freeze != (schedule.Freeze{Night: d("2026-10-10"), Tenths: -40}) {
		t.Fatalf("%+v", p)
	}
	if len(p.Boats) != 12 || p.Boats[0].Danger != schedule.DangerRaw {
		t.Fatalf("%d boats, %+v", len(p.Boats), p.Boats)
	}
	for id, w := range s.weeks() {
		if w != before[id] {
			t.Errorf("%s was leveled from %s to %s", id, before[id], w)
		}
	}
	// Wednesday to Friday, three days of six hours.
	if p.Left != 3*360 {
		t.Errorf("%d minutes left, want 1080", p.Left)
	}
	each := p.Boats[0].Minutes
	if each == 0 || p.Needed != 12*each || p.Short != (12-1080/each)*each {
		t.Errorf("needs %d, short %d, each %d", p.Needed, p.Short, each)
	}
	for i, b := range p.Boats {
		if want := (i+1)*each > 1080; b.Cut != want {
			t.Errorf("boat %d: cut %v, want %v", i, b.Cut, want)
		}
	}
	// One is booked for Thursday: it needs no more hours, and takes its own.
	s.must(func() error {
		_, err := s.Book(t.Context(), now, "desk", schedule.Booking{VisitID: "B03.lay-up.2026", BoatID: "B03", Kind: schedule.LayUp, Day: d("2026-10-08"), Minute: -1}, nil, true)
		return err
	}())
	if p = s.place(now); p.Needed != 11*each || p.Left >= 1080 {
		t.Errorf("booked one: needs %d, left %d", p.Needed, p.Left)
	}
	// One is booked for after the freeze: it is named, and not moved.
	s.must(func() error {
		_, err := s.Book(t.Context(), now, "desk", schedule.Booking{VisitID: "B04.lay-up.2026", BoatID: "B04", Kind: schedule.LayUp, Day: d("2026-10-14"), Minute: -1}, nil, true)
		return err
	}())
	for _, b := range s.place(now).Boats {
		if b.Boat.ID == "B04" && (!b.After || !strings.Contains(b.Standing(words.Format{}), "after the freeze")) {
			t.Errorf("%+v", b)
		}
	}
}

// A freeze in the week after next's Tuesday: deadlines move, with the reason, and
// go back once two forecasts in a row say so. What the history says is looked at
// too.
func TestAFreezeOfALaterWeekMovesThePlanAndRelents(t *testing.T) {
	s := newFreezeShop(t, 6, "")
	now := at("2026-10-08 07:00") // a Thursday
	s.settle(now)
	before := s.weeks()
	s.forecast(now, 6, 6, 6, 6, 6, 6, -5) // the night to Thursday, October 15
	s.look(now)
	p := s.place(now)
	if p.Event == nil || p.Event.Brings != d("2026-10-15") {
		t.Fatalf("%+v", p.Event)
	}
	for id, w := range s.weeks() {
		if w > d("2026-10-14").Week() || w == 0 {
			t.Errorf("%s is planned for %s, after the freeze; it was %s", id, w, before[id])
		}
	}
	view, err := s.View(t.Context(), "B01")
	s.must(err)
	if why := view.Visits[0].Why; !strings.Contains(why, "Thursday, October 15") {
		t.Errorf("%q", why)
	}
	for i := range 2 {
		now = now.Add(6 * time.Hour)
		s.forecast(now, 6, 6, 6, 6, 6, 6, 6, 6)
		s.look(now)
		if p = s.place(now); (p.Event == nil) != (i == 1) {
			t.Errorf("after %d forecasts: %+v", i+1, p.Event)
		}
	}
	for id, w := range s.weeks() {
		if visitDeadline(t, s, id) != d("2026-10-30") {
			t.Errorf("%s, week %s: still due by %s", id, w, visitDeadline(t, s, id))
		}
	}
}

func (s *freezeShop) settle(now time.Time) {
	s.t.Helper()
	_, err := s.Settle(s.t.Context(), now, s.Day(now), nil)
	s.must(err)
}

func visitDeadline(t *testing.T, s *freezeShop, boat string) civil.Day {
	t.Helper()
	plan, err := s.DB.Plan(t.Context(), boat)
	s.must(err)
	for _, v := range plan.Visits {
		if v.Kind == schedule.LayUp && v.Season == 2026 {
			return v.Deadline
		}
	}
	return 0
}

func TestAnOldForecastRaisesNoAlarm(t *testing.T) {
	now := at("2026-10-07 07:00")
	for age, want := range map[time.Duration]bool{25 * time.Hour: false, -2 * time.Hour: false, 23 * time.Hour: true} {
		s := newFreezeShop(t, 1, "") // what one raised would stand for the next
		s.forecast(now.Add(-age), 6, -4, -4, -4)
		s.look(now)
		if p := s.place(now); (p.Event != nil) != want || p.TooOld == want {
			t.Errorf("%s old: event %+v, too old %v", age, p.Event, p.TooOld)
		}
	}
}

func TestAFailureShowsWhatIsKnown(t *testing.T) {
	s := newFreezeShop(t, 1, "")
	now := at("2026-10-07 07:00")
	s.forecast(now.Add(-time.Hour), 6, 6, -4)
	s.look(now)
	s.must(os.WriteFile(s.file, []byte(`{"properties"`), 0o600))
	if err := s.FetchForecasts(t.Context(), now.Add(time.Hour)); err == nil {
		t.Fatal("nonsense was taken")
	}
	p := s.place(now.Add(time.Hour))
	if p.Known.Forecast == nil || !strings.Contains(p.Known.Fault, "not JSON") || !p.Known.FetchedAt.Equal(now) || p.Event == nil {
		t.Errorf("%+v", p.Known)
	}
}

// After the night: who stood out is checked in spring, unless the station's record
// says that it did not freeze.
func TestAfterTheNight(t *testing.T) {
	s := newFreezeShop(t, 1, "")
	now := at("2026-10-07 07:00")
	s.forecast(now.Add(-time.Hour), 6, 6, -4, 6)
	s.look(now)
	now = at("2026-10-11 07:00")
	s.look(now)
	checked := func() bool {
		plan, err := s.DB.Plan(t.Context(), "B00")
		s.must(err)
		for _, it := range plan.Items {
			if it.Rule == "freeze-check" {
				return true
			}
		}
		return false
	}
	if !checked() {
		t.Error("no freeze-damage check for a boat that stood out")
	}
	if p := s.place(now); p.Event != nil {
		t.Errorf("the alarm stands: %+v", p.Event)
	}
	for tenths, want := range map[int]bool{-15: false, -30: true} {
		pc := freeze.Climate{Place: "Our lake", Percentile: 10, Freeze: climate.Freeze{Recent: []climate.Minimum{{Day: d("2026-10-10"), Tenths: tenths}}}}
		_, err := s.SetPlaceClimate(t.Context(), now, "test", pc)
		s.must(err)
		if got := checked(); got != want {
			t.Errorf("recorded %d: checked %v, want %v", tenths, got, want)
		}
		season, err := s.FreezeSeason(t.Context(), "Our lake", d("2026-10-11"))
		s.must(err)
		if season.Called != 1 || (season.Hits == 1) != want || (season.FalseAlarms == 1) == want || season.Missed != 0 {
			t.Errorf("recorded %d: %+v", tenths, season)
		}
	}
}

// A freeze of a later week wants the hours of people who were told a week. They are
// not moved later for it; who is not at risk keeps the week that was named.
func TestWhoWasToldIsNotMovedLaterByAFreeze(t *testing.T) {
	s := newFreezeShop(t, 24, "")
	now := at("2026-10-08 07:00")
	for i := range 16 { // afloat: -5 °C does nothing to them
		b, err := s.DB.Facts(t.Context(), fmt.Sprintf("B%02d", i))
		s.must(err)
		b.Boat.Berth = "own-dock"
		s.must(storetest.SaveBoat(t.Context(), s.Writer(), now, "test", b.Boat))
	}
	s.settle(now)
	before := s.weeks()
	var told []schedule.Notified
	inTheWay := 0
	for i := range 16 {
		id := fmt.Sprintf("B%02d", i)
		told = append(told, schedule.Notified{CustomerID: "C" + id[1:], Subject: id + ".lay-up.2026", Step: schedule.StepInvitation, On: d("2026-09-20"), Week: before[id]})
		if before[id] <= d("2026-10-14").Week() {
			inTheWay++
		}
	}
	if inTheWay < 4 {
		t.Fatalf("only %d told boats are in the freeze's weeks: %v", inTheWay, before)
	}
	s.must(outbox.RecordNotified(t.Context(), s.Writer(), now, "test", told))
	s.forecast(now, 6, 6, 6, 6, 6, 6, -5) // the night to Thursday, October 15
	s.look(now)
	if p := s.place(now); p.Event == nil || len(p.Boats) != 8 {
		t.Fatalf("%+v, %d boats", p.Event, len(p.Boats))
	}
	after := s.weeks()
	for i := range 16 {
		if id := fmt.Sprintf("B%02d", i); after[id] == 0 || after[id] > before[id] {
			t.Errorf("%s, whose owner was told the week %s, was moved to %s", id, before[id], after[id])
		}
	}
}

// Each owner hears once of a freeze, the desk and the owner of the shop once; who
// wants no email is on the list of calls. Without freeze.emails nothing goes out.
func TestWhoIsToldOfAFreeze(t *testing.T) {
	now := at("2026-10-07 12:00")
	for _, on := range []bool{false, true} {
		s := newFreezeShop(t, 3, map[bool]string{false: "", true: "[freeze]\nemails = true\n"}[on])
		ctx := t.Context()
		s.must(s.Writer().SetOptOut(ctx, now, "desk", "C02", false, true))
		s.must(s.SwitchSending(ctx, now, "desk", true))
		s.forecast(now.Add(-time.Hour), 6, 6, -4, 6)
		s.look(now)
		n, err := s.TellOfFreeze(ctx, now)
		s.must(err)
		if want := map[bool]int{false: 0, true: 4}[on]; n != want { // two owners of boats, desk, owner
			t.Errorf("emails %v: %d were queued, want %d", on, n, want)
		}
		p := s.place(now)
		if calls := p.FreezeCalls(); len(calls) != map[bool]int{false: 3, true: 1}[on] {
			t.Errorf("emails %v: %d to call", on, len(calls))
		}
		if !on {
			if p.MailWhy == "" || p.Boats[0].Telling.Way != notify.FreezeByMail {
				t.Errorf("who would hear is not shown: %q, %+v", p.MailWhy, p.Boats[0].Telling)
			}
			continue
		}
		if n, err = s.TellOfFreeze(ctx, now.Add(time.Hour)); err != nil || n != 0 {
			t.Errorf("told again: %d, %v", n, err)
		}
		letters, err := outbox.Messages(ctx, s.DB, outbox.MessageQuery{})
		s.must(err)
		to := map[string]bool{}
		for _, l := range letters {
			to[l.To+" "+string(l.Step)] = true
		}
		for _, want := range []string{"owner0@example.com freeze", "owner1@example.com freeze", "desk@example.com freeze-alarm", "owner@example.com freeze-alarm"} {
			if !to[want] {
				t.Errorf("no email %s: %v", want, to)
			}
		}
		// The forecast relents before they went out: they are taken back. Those who
		// heard (none here) would get no second one when it comes again.
		for i := 1; i <= 2; i++ {
			s.forecast(now.Add(time.Duration(i)*time.Hour), 6, 6, 6, 6)
			s.look(now.Add(time.Duration(i)*time.Hour + time.Minute))
		}
		letters, err = outbox.Messages(ctx, s.DB, outbox.MessageQuery{State: schedule.MessageWithdrawn})
		s.must(err)
		if len(letters) != 2 {
			t.Errorf("%d unsent emails taken back, want 2", len(letters))
		}
		// It comes again. Owner 0 had heard of it by then and hears no more; owner 1's
		// email never left.
		heard := []schedule.Notified{{CustomerID: "C00", Subject: freeze.Subject(p.Event.ID), Step: schedule.StepFreeze, On: s.Day(now)}}
		s.must(outbox.RecordNotified(ctx, s.Writer(), now, "test", heard))
		s.forecast(now.Add(3*time.Hour), 6, 6, -4, 6)
		s.look(now.Add(3*time.Hour + time.Minute))
		if n, err = s.TellOfFreeze(ctx, now.Add(3*time.Hour+time.Minute)); err != nil || n != 1 {
			t.Errorf("told %d when it came again, %v; want owner 1 alone", n, err)
		}
		if again := s.place(now.Add(4 * time.Hour)); again.Event == nil || again.Event.ID != p.Event.ID {
			t.Errorf("another freeze: %+v", again.Event)
		}
		history := 0
		row := s.DB.Read.QueryRowContext(ctx, "SELECT count(*) FROM audit WHERE what IN (?, ?, ?)", watch.Raised, watch.CalledIn, watch.Again)
		s.must(row.Scan(&history))
		if history != 3 {
			t.Errorf("%d entries in the change history, want one raised, one lifted, one raised again", history)
		}
	}
}

// Before sending is switched on, the preview shows who would hear of an alarm that
// stands; without freeze.emails nobody would.
func TestThePreviewShowsWhoWouldHearOfAFreeze(t *testing.T) {
	now := at("2026-10-07 12:00")
	for settings, want := range map[string]int{"": 0, "[freeze]\nemails = true\n": 2} {
		s := newFreezeShop(t, 3, settings)
		s.must(s.Writer().SetOptOut(t.Context(), now, "desk", "C02", false, true))
		s.forecast(now.Add(-time.Hour), 6, 6, -4, 6)
		s.look(now)
		days, err := s.Rehearse(t.Context(), s.Day(now), s.Day(now)+6)
		s.must(err)
		n := 0
		for _, d := range days {
			for i := range d.Notices {
				if d.Notices[i].Step != schedule.StepFreeze {
					continue
				}
				if n++; d.Day != s.Day(now) {
					t.Errorf("an email about the freeze on %s", d.Day)
				}
				_, err := s.Message(t.Context(), &d.Notices[i])
				s.must(err)
			}
		}
		if n != want {
			t.Errorf("%q: %d would hear of the freeze, want %d", settings, n, want)
		}
	}
}

// weatherService is one on this machine that counts what it is asked.
func weatherService(t *testing.T, answer http.HandlerFunc) (address string, asked *atomic.Int64) {
	t.Helper()
	asked = new(atomic.Int64)
	srv := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		asked.Add(1)
		if !strings.HasPrefix(r.Header.Get("User-Agent"), "Bellbuoy/") || !strings.Contains(r.Header.Get("User-Agent"), "(desk@example.com)") {
			t.Errorf("asked as %q", r.Header.Get("User-Agent"))
		}
		answer(w, r)
	}))
	t.Cleanup(srv.Close)
	return srv.URL, asked
}

func TestForecastsAreAskedForAtMostHourly(t *testing.T) {
	var s *freezeShop
	address, asked := weatherService(t, func(w http.ResponseWriter, _ *http.Request) {
		http.ServeFile(w, httptest.NewRequest("GET", "/", nil), s.file)
	})
	s = newFreezeShop(t, 1, "")
	for i := range s.Config.Places {
		s.Config.Places[i].Forecast = address
	}
	start := at("2026-10-07 07:00")
	s.forecast(start.Add(-time.Hour), 6, 6, -4, 6)
	for m := 0; m < 3*60; m += 5 {
		s.must(s.FetchForecasts(t.Context(), start.Add(time.Duration(m)*time.Minute)))
	}
	if n := asked.Load(); n < 2 || n > 3 {
		t.Errorf("asked %d times in three hours", n)
	}
	s.must(s.JudgeForecasts(t.Context(), start.Add(3*time.Hour)))
	if p := s.place(start.Add(3 * time.Hour)); p.Event == nil {
		t.Error("no alarm from what was fetched")
	}
}

// A weather service that does not answer keeps no turn of the daemon waiting.
func TestASlowWeatherServiceKeepsNothingWaiting(t *testing.T) {
	began := make(chan struct{}, 10)
	address, _ := weatherService(t, func(_ http.ResponseWriter, r *http.Request) {
		began <- struct{}{}
		<-r.Context().Done()
	})
	s := newFreezeShop(t, 1, "")
	s.Config.Places[0].Forecast = address
	ctx, cancel := context.WithCancel(t.Context())
	turned := make(chan error, 1)
	now := at("2026-10-07 07:00")
	go func() { turned <- s.Tick(ctx, func() time.Time { return now }, slog.New(slog.DiscardHandler)) }()
	<-began
	select {
	case err := <-turned:
		s.must(err)
	case <-time.After(15 * time.Second):
		t.Error("the turn waits for the weather service")
	}
	cancel()
}

// Without a forecast in the settings nothing is asked, looked at or said.
func TestByDefaultNobodyIsAsked(t *testing.T) {
	s := newFreezeShop(t, 1, "")
	s.Config.Places[0].Forecast = ""
	s.must(s.Tick(t.Context(), func() time.Time { return at("2026-10-07 07:00") }, slog.New(slog.DiscardHandler)))
	all, err := s.FreezeWatch(t.Context(), at("2026-10-07 07:00"), app.FreezeBoats)
	s.must(err)
	if len(all) != 0 {
		t.Errorf("%+v", all)
	}
	if known, err := freeze.Forecasts(t.Context(), s.DB); err != nil || len(known) != 0 {
		t.Errorf("%+v, %v", known, err)
	}
}

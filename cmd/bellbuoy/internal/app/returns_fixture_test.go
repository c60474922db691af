package app_test

import (
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"bellbuoy/cmd/bellbuoy/internal/app"
	"bellbuoy/cmd/bellbuoy/internal/config"
	"bellbuoy/cmd/bellbuoy/internal/demo"
	"bellbuoy/cmd/bellbuoy/internal/figures"
	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/returns"
	"bellbuoy/store"
	"bellbuoy/store/imports"
	"bellbuoy/store/outbox"
)

// soldShop is a shop with invented boats and years of history, planned for a
// day, its past seasons replayed.
func soldShop(t testing.TB, today civil.Day, boats, years int, seed uint64) *app.App {
	t.Helper()
	dir := t.TempDir()
	var b strings.Builder
	fmt.Fprint(&b, "[shop]\nname = \"Tamarwick Landing Boat Works\"\naddress = \"4 Slipway Lane, Tamarwick Landing\"\nurl = \"https://service.lindrake.example\"\n"+
		"owner_email = \"owner@lindrake.example\"\n[files]\nrules = \"rules.toml\"\n[mail]\nfrom = \"Tamarwick Landing Boat Works <service@lindrake.example>\"\n")
	for _, name := range []string{"Inge", "Tomasz", "Ruth"} {
		fmt.Fprintf(&b, "[[weeks.technician]]\nname = %q\nhours = [8, 8, 8, 8, 8, 0, 0]\n", name)
	}
	for _, p := range demo.Places() {
		fmt.Fprintf(&b, "[[place]]\nname = %q\nlaunch = %q\nwinterize_by = %q\n", p.Name, p.Launch, p.LayUp)
	}
	if err := os.WriteFile(filepath.Join(dir, "bellbuoy.toml"), []byte(b.String()), 0o600); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(dir, "rules.toml"), demo.Rules, 0o600); err != nil {
		t.Fatal(err)
	}
	cfg, err := config.Load(filepath.Join(dir, "bellbuoy.toml"))
	if err != nil {
		t.Fatal(err)
	}
	a, err := app.Open(t.Context(), cfg)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { a.Close() })
	if err := demo.WriteParts(dir, demo.Parts(rand.New(rand.NewPCG(seed, 0)), today, boats, years)); err != nil {
		t.Fatal(err)
	}
	takeIn(t, a, dir, today)
	if _, err := a.Settle(t.Context(), today.At(12, 0, cfg.Zone()), today, nil); err != nil {
		t.Fatal(err)
	}
	if err := figures.Replay(t.Context(), a, today, nil); err != nil {
		t.Fatal(err)
	}
	return a
}

// takeIn takes the five files of a folder in.
func takeIn(t testing.TB, a *app.App, dir string, today civil.Day) {
	t.Helper()
	var files []imports.File
	for _, name := range []string{"customers.csv", "boats.csv", "components.csv", "history.csv", "readings.csv"} {
		f, err := os.Open(filepath.Join(dir, name))
		if err != nil {
			t.Fatal(err)
		}
		defer f.Close()
		files = append(files, imports.File{Name: name, R: f})
	}
	report, err := imports.Intake(t.Context(), a.Writer(), today.At(12, 0, a.Config.Zone()), files, a.Known(), app.IntakeBy("test"))
	if err != nil {
		t.Fatalf("%v: %v", err, report.Faults)
	}
}

func theDay(t testing.TB, s string) civil.Day {
	t.Helper()
	d, err := civil.Parse(s)
	if err != nil {
		t.Fatal(err)
	}
	return d
}

// told is how many season visits were left in which state.
type told struct{ silent, declined, answered, booked int }

// tellSome tells the customers of some boats due for lay-up in 2026 of it, and
// lets them answer: nothing, no, later, or a day.
func tellSome(t testing.TB, a *app.App, today civil.Day) told {
	t.Helper()
	l := ledger(t, a, today)
	season := returns.Season{Year: 2026, Half: returns.Autumn}
	list, err := l.List(t.Context(), figures.Query{List: figures.ListSeason, Season: season, Fate: string(returns.FateUntold)})
	if err != nil {
		t.Fatal(err)
	}
	if len(list.Boats) < 8 {
		t.Fatalf("only %d boats are untold", len(list.Boats))
	}
	var n told
	for i, boat := range list.Boats[:len(list.Boats)/4*4] {
		owner, err := a.DB.OwnerOf(t.Context(), boat)
		if err != nil {
			t.Fatal(err)
		}
		visit := boat + ".lay-up.2026"
		heard := []schedule.Notified{{CustomerID: owner.ID, Subject: visit, Step: schedule.StepInvitation, On: theDay(t, "2026-08-31")}}
		at := theDay(t, "2026-10-01").At(10, 0, a.Config.Zone())
		say := schedule.Answer{CustomerID: owner.ID, BoatID: boat, VisitID: visit, At: at}
		if i%4 == 1 || i%4 == 2 {
			// The last call comes after the answer, and so is not what it followed.
			heard = append(heard,
				schedule.Notified{CustomerID: owner.ID, Subject: visit, Step: schedule.StepNudge, On: theDay(t, "2026-09-21")},
				schedule.Notified{CustomerID: owner.ID, Subject: visit, Step: schedule.StepLastCall, On: theDay(t, "2026-10-05")})
		}
		if err := outbox.RecordNotified(t.Context(), a.Writer(), at, "test", heard); err != nil {
			t.Fatal(err)
		}
		switch i % 4 {
		case 0:
			n.silent++
			continue
		case 1:
			n.declined++
			say.Kind = schedule.AnswerDecline
		case 2:
			n.answered++
			say.Kind, say.Until = schedule.AnswerLater, today+30
		case 3:
			n.booked++
			b := schedule.Booking{VisitID: visit, BoatID: boat, Kind: schedule.LayUp, Day: today + 5, Minute: -1}
			if err := a.Writer().Book(t.Context(), at, "test", b, nil, nil); err != nil {
				t.Fatal(err)
			}
			continue
		}
		if _, err := a.Writer().SaveAnswer(t.Context(), at, "test", store.NewAnswer{Answer: say}); err != nil {
			t.Fatal(err)
		}
	}
	return n
}

package app_test

import (
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"bellbuoy/cmd/bellbuoy/internal/app"
	"bellbuoy/cmd/bellbuoy/internal/config"
	"bellbuoy/cmd/bellbuoy/internal/demo"
	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/store/imports"
)

func d(s string) civil.Day {
	v, err := civil.Parse(s)
	if err != nil {
		panic(err)
	}
	return v
}

// settings are the demo shop's with a crew of so many technicians and more
// lines about its mail.
func settings(crew int, moreMail string) string {
	var b strings.Builder
	b.WriteString(`[shop]
name = "Tamarwick Landing Boat Works"
address = "4 Slipway Lane, Tamarwick Landing"
url = "http://lindrake.example"
[mail]
from = "Tamarwick Landing Boat Works <service@lindrake.example>"
`)
	b.WriteString(moreMail)
	for i := range crew {
		fmt.Fprintf(&b, "[[weeks.technician]]\nname = \"Technician %d\"\nhours = [8, 8, 8, 8, 8, 0, 0]\n", i+1)
	}
	for _, p := range demo.Places() {
		fmt.Fprintf(&b, "[[place]]\nname = %q\nlaunch = %q\nwinterize_by = %q\nsource = %q\n", p.Name, p.Launch, p.LayUp, p.Source)
	}
	return b.String()
}

// openApp opens an empty shop.
func openApp(t testing.TB, crew int) *app.App {
	t.Helper()
	return openAppWith(t, crew, "")
}

// openAppWith does so with more settings of its mail.
func openAppWith(t testing.TB, crew int, moreMail string) *app.App {
	t.Helper()
	return openConfig(t, readSettings(t, crew, moreMail))
}

// openAppOn opens a shop on a copy of a file.
func openAppOn(t testing.TB, crew int, file string) *app.App {
	t.Helper()
	cfg := readSettings(t, crew, "")
	from, err := os.Open(file)
	if err != nil {
		t.Fatal(err)
	}
	defer from.Close()
	to, err := os.OpenFile(cfg.Path(cfg.Files.Database), os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o600)
	if err != nil {
		t.Fatal(err)
	}
	_, err = io.Copy(to, from)
	if err := errors.Join(err, to.Sync(), to.Close()); err != nil {
		t.Fatal(err)
	}
	return openConfig(t, cfg)
}

func readSettings(t testing.TB, crew int, moreMail string) *config.Config {
	t.Helper()
	path := filepath.Join(t.TempDir(), "bellbuoy.toml")
	if err := os.WriteFile(path, []byte(settings(crew, moreMail)), 0o600); err != nil {
		t.Fatal(err)
	}
	cfg, err := config.Load(path)
	if err != nil {
		t.Fatal(err)
	}
	return cfg
}

func openConfig(t testing.TB, cfg *config.Config) *app.App {
	t.Helper()
	a, err := app.Open(t.Context(), cfg)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := a.Close(); err != nil {
			t.Error(err)
		}
	})
	return a
}

// demoApp opens the invented shop with so many boats and years of history,
// as it is before its first plan.
func demoApp(t testing.TB, crew, boats, years int, today civil.Day) *app.App {
	t.Helper()
	return demoAppWith(t, crew, boats, years, today, "")
}

// demoAppWith does so with more settings of its mail.
func demoAppWith(t testing.TB, crew, boats, years int, today civil.Day, moreMail string) *app.App {
	t.Helper()
	a := openAppWith(t, crew, moreMail)
	takeDemo(t, a, boats, years, today)
	return a
}

// takeDemo imports the invented shop into an empty one.
func takeDemo(t testing.TB, a *app.App, boats, years int, today civil.Day) {
	t.Helper()
	dir := t.TempDir()
	if err := demo.WriteParts(dir, demo.Parts(rand.New(rand.NewPCG(1, 0)), today, boats, years)); err != nil {
		t.Fatal(err)
	}
	var files []imports.File
	for _, name := range []string{"customers.csv", "boats.csv", "components.csv", "history.csv", "readings.csv"} {
		f, err := os.Open(filepath.Join(dir, name))
		if err != nil {
			t.Fatal(err)
		}
		defer f.Close()
		files = append(files, imports.File{Name: name, R: f})
	}
	report, err := imports.Intake(t.Context(), a.Writer(), today.At(6, 0, a.Config.Zone()), files, a.Known(), app.IntakeBy("test"))
	if err != nil {
		t.Fatal(errors.Join(err, fmt.Errorf("%v", report.Faults)))
	}
}

// settle brings the shop up to date and returns what it did.
func settle(t testing.TB, a *app.App, today civil.Day) app.Planned {
	t.Helper()
	done, err := a.Settle(t.Context(), today.At(6, 0, a.Config.Zone()), today, nil)
	if err != nil {
		t.Fatal(err)
	}
	return done
}

// visits returns every planned visit by its id.
func visits(t testing.TB, a *app.App) map[string]schedule.Visit {
	t.Helper()
	all := make(map[string]schedule.Visit)
	err := a.DB.EachVisit(t.Context(), func(v schedule.Visit) error {
		all[v.ID] = v
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	return all
}

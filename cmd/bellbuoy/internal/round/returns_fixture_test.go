package round_test

import (
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"bellbuoy/cmd/bellbuoy/internal/demo"
	"bellbuoy/cmd/bellbuoy/internal/round"
	"bellbuoy/cmd/bellbuoy/internal/shop"
	"bellbuoy/schedule/civil"
	"bellbuoy/store"
)

// soldShop is a shop with invented boats and years of history, planned for a
// day, its past seasons replayed.
func soldShop(t testing.TB, today civil.Day, boats, years int, seed uint64) *round.House {
	t.Helper()
	dir := t.TempDir()
	var b strings.Builder
	fmt.Fprint(&b, "[shop]\nname = \"Larkspur Landing Boat Works\"\naddress = \"4 Slipway Lane, Larkspur Landing\"\nurl = \"https://service.larkspur.example\"\n"+
		"owner_email = \"owner@larkspur.example\"\n[mail]\nfrom = \"Larkspur Landing Boat Works <service@larkspur.example>\"\n")
	for _, name := range []string{"Inge", "Tomasz", "Ruth"} {
		fmt.Fprintf(&b, "[[weeks.technician]]\nname = %q\nhours = [8, 8, 8, 8, 8, 0, 0]\n", name)
	}
	for _, p := range demo.Places() {
		fmt.Fprintf(&b, "[[place]]\nname = %q\nlaunch = %q\nlay_up = %q\n", p.Name, p.Launch, p.LayUp)
	}
	cfg, err := shop.Parse(filepath.Join(dir, "bellbuoy.toml"), []byte(b.String()))
	if err != nil {
		t.Fatal(err)
	}
	h, err := round.Open(t.Context(), cfg)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { h.Close() })
	if err := demo.WriteParts(dir, demo.Parts(rand.New(rand.NewPCG(seed, 0)), today, boats, years)); err != nil {
		t.Fatal(err)
	}
	takeIn(t, h, dir, today)
	if _, err := h.Settle(t.Context(), today.At(12, 0, cfg.Zone()), today, nil); err != nil {
		t.Fatal(err)
	}
	if err := h.Replay(t.Context(), today, nil); err != nil {
		t.Fatal(err)
	}
	return h
}

// takeIn takes the five files of a folder in.
func takeIn(t testing.TB, h *round.House, dir string, today civil.Day) {
	t.Helper()
	var files []store.File
	for _, name := range []string{"customers.csv", "boats.csv", "components.csv", "history.csv", "readings.csv"} {
		f, err := os.Open(filepath.Join(dir, name))
		if err != nil {
			t.Fatal(err)
		}
		defer f.Close()
		files = append(files, store.File{Name: name, R: f})
	}
	report, err := h.DB.Intake(t.Context(), today.At(12, 0, h.Config.Zone()), files, h.Known(), round.IntakeBy("test"))
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

package app_test

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"bellbuoy/cmd/bellbuoy/internal/app"
	"bellbuoy/cmd/bellbuoy/internal/config"
)

// A shop of three boats with rules and texts of its own, planned for 1 July, is moved
// into another folder: nothing of the shop has changed, and no boat is planned again.
// A line more above a rule changes nothing that it says either. A rule that says
// something else has all three planned again, and so have texts.
func TestMovedFolderPlansNothingAgain(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "shop")
	if err := os.Mkdir(dir, 0o700); err != nil {
		t.Fatal(err)
	}
	write := func(name, text string) {
		t.Helper()
		if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	planned := func(what string, want int, fill func(*app.App)) {
		t.Helper()
		write("bellbuoy.toml", settings(1, "")+"forecast = \""+filepath.ToSlash(filepath.Join(dir, "forecast.json"))+"\"\n[files]\nrules = \"rules.toml\"\ntexts = \"texts.toml\"\n")
		c, err := config.Load(filepath.Join(dir, "bellbuoy.toml"))
		if err != nil {
			t.Fatal(err)
		}
		a, err := app.Open(t.Context(), c)
		if err != nil {
			t.Fatal(err)
		}
		if fill != nil {
			fill(a)
		}
		if done := settle(t, a, d("2026-07-01")); done.Boats != want {
			t.Errorf("%s: %d boats were planned, want %d", what, done.Boats, want)
		}
		if err := a.Close(); err != nil {
			t.Fatal(err)
		}
	}
	rule := "[[change]]\nrule = \"engine-oil\"\nlabor = 45\n"
	write("rules.toml", rule)
	write("texts.toml", "")
	planned("a new shop", 3, func(a *app.App) { takeDemo(t, a, 3, 2, d("2026-07-01")) })
	planned("opened again", 0, nil)

	moved := filepath.Join(t.TempDir(), "elsewhere")
	if err := os.Rename(dir, moved); err != nil {
		t.Fatal(err)
	}
	dir = moved
	planned("moved", 0, nil)
	write("rules.toml", "# The shop's own times.\n"+rule)
	planned("a line more", 0, nil)
	write("rules.toml", strings.Replace(rule, "45", "50", 1))
	planned("another time for a job", 3, nil)
	write("texts.toml", "[greeting]\nnamed = \"Ahoy {name},\"\n")
	planned("another greeting", 3, nil)
}

package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// TestAnExportOfBeforeIsImported makes a shop of what the last version with the
// old words exported, by that version's settings, and asks for the same rows
// under the new words.
func TestAnExportOfBeforeIsImported(t *testing.T) {
	before := filepath.Join(testdata, "before-words")
	settings, err := os.ReadFile(filepath.Join(before, "bellbuoy.toml"))
	if err != nil {
		t.Fatal(err)
	}
	s := newShop(t, string(settings))
	s.today = "2026-09-29"
	s.do(t, "import", filepath.Join(before, "export"))
	for _, l := range doJSON[[]struct{ Step string }](t, s, "mail", "list") {
		if l.Step != "second-reminder" && l.Step != "first-reminder" && l.Step != "final-reminder" {
			t.Errorf("an email of the step %q", l.Step)
		}
	}
	if said := s.tryDo(t, "check"); !holdsAll(said, []string{
		"place.lay_up is called place.winterize_by now", "reminders.hold_out_percent is called reminders.comparison_percent now",
	}) {
		t.Errorf("check says:\n%s", said)
	}
	folder := filepath.Join(s.dir, "out")
	s.do(t, "export", folder)
	rows := func(dir, name string) []string {
		text, err := os.ReadFile(filepath.Join(dir, "whole", name))
		if err != nil {
			t.Fatal(err)
		}
		return strings.Split(strings.TrimSpace(string(text)), "\n")
	}
	words := strings.NewReplacer(",invitation,", ",first-reminder,", ",nudge,", ",second-reminder,", ",last-call,", ",final-reminder,", ",overdue,", ",overdue-notice,")
	was, is := rows(filepath.Join(before, "export"), "heard.csv"), rows(folder, "heard.csv")
	if len(was) < 10 || len(was) != len(is) {
		t.Fatalf("%d rows of reminders before, %d now", len(was), len(is))
	}
	have := make(map[string]bool, len(is))
	for _, row := range is {
		have[row] = true
	}
	for _, row := range was[1:] {
		if !have[words.Replace(row)] {
			t.Errorf("%s is lost", row)
		}
	}
	all := strings.Join(rows(folder, "outbox.csv"), "\n")
	for _, old := range []string{"|nudge", "|invitation", "|last-call", "|overdue,"} {
		if strings.Contains(all, old) {
			t.Errorf("an email's key still ends with %q", old)
		}
	}
	for _, old := range []string{",told,", ",intake,", ",mail came back,"} {
		if strings.Contains(strings.Join(rows(folder, "audit.csv"), "\n"), old) {
			t.Errorf("the log of changes still says %q", old)
		}
	}
}

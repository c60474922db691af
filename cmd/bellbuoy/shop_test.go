package main

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"bellbuoy/cmd/bellbuoy/internal/demo"
)

// testShop is a folder with a shop in it, worked through the real commands.
type testShop struct {
	dir   string
	today string   // given to every command
	under []string // the command line that runs the daemon, none by itself
}

// newShop makes a shop from settings.
func newShop(t testing.TB, settings string) *testShop {
	t.Helper()
	s := &testShop{dir: t.TempDir()}
	// The demo's settings name its rules file; others leave it unread.
	for path, text := range map[string][]byte{s.config(): []byte(settings), filepath.Join(s.dir, "rules.toml"): demo.Rules} {
		if err := os.WriteFile(path, text, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	return s
}

// demoSettings are the invented shop's in one file: the template's values with a
// place, a crew and a mail server that only catches.
func demoSettings(listen, mail string, freeze bool) string {
	return demoFixed(listen, mail, freeze) + demoPages(freeze)
}

// lindrake are the settings of the shop in the scripts, with more behind them.
func lindrake(t testing.TB, more string) string {
	t.Helper()
	text, err := os.ReadFile(filepath.Join(testdata, "script", "lindrake.toml"))
	if err != nil {
		t.Fatal(err)
	}
	return string(text) + more
}

func (s *testShop) config() string { return filepath.Join(s.dir, "bellbuoy.toml") }

// do runs one command, which must succeed, and returns what it printed.
func (s *testShop) do(t testing.TB, args ...string) string {
	t.Helper()
	cmd := exec.Command(program, append([]string{"--config", s.config(), "--today", s.today}, args...)...)
	var fault bytes.Buffer
	cmd.Stderr = &fault
	out, err := cmd.Output()
	if err != nil {
		t.Fatalf("bellbuoy %s: %v\n%s%s", strings.Join(args, " "), err, fault.Bytes(), out)
	}
	return string(out)
}

// tryDo runs one command and returns what it printed, whether it succeeds or
// not.
func (s *testShop) tryDo(t testing.TB, args ...string) string {
	t.Helper()
	out, err := exec.Command(program, append([]string{"--config", s.config(), "--today", s.today}, args...)...).CombinedOutput()
	if _, ran := err.(*exec.ExitError); err != nil && !ran {
		t.Fatal(err)
	}
	return string(out)
}

// doWith runs one command, which must succeed, with something on its standard
// input.
func (s *testShop) doWith(t testing.TB, in io.Reader, args ...string) string {
	t.Helper()
	cmd := exec.Command(program, append([]string{"--config", s.config(), "--today", s.today}, args...)...)
	cmd.Stdin = in
	out, err := cmd.Output()
	if err != nil {
		t.Fatalf("bellbuoy %s: %v\n%s", strings.Join(args, " "), err, out)
	}
	return string(out)
}

// doJSON reads what a command that must succeed prints with --json.
func doJSON[T any](t testing.TB, s *testShop, args ...string) T {
	t.Helper()
	var v T
	out := s.do(t, append(args, "--json")...)
	dec := json.NewDecoder(strings.NewReader(out))
	if err := dec.Decode(&v); err != nil {
		t.Fatalf("bellbuoy %s: %v in\n%s", strings.Join(args, " "), err, out)
	}
	return v
}

// readCSV reads a file whose first line names the columns.
func readCSV(path string) ([]map[string]string, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	lines, err := csv.NewReader(f).ReadAll()
	if err != nil {
		return nil, err
	}
	if len(lines) < 2 {
		return nil, fmt.Errorf("%s: no rows", path)
	}
	rows := make([]map[string]string, 0, len(lines)-1)
	for _, line := range lines[1:] {
		row := make(map[string]string, len(line))
		for i, name := range lines[0] {
			row[name] = line[i]
		}
		rows = append(rows, row)
	}
	return rows, nil
}

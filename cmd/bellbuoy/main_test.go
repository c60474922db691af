package main

import (
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"
)

// program is the program under test, as it is shipped: these tests stand
// outside of it. Built without the race detector, it is also quick enough to be
// killed in the middle of things.
var program string

func TestMain(m *testing.M) { os.Exit(testMain(m)) }

func testMain(m *testing.M) int {
	dir, err := os.MkdirTemp("", "bellbuoy-test-")
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		return 1
	}
	defer os.RemoveAll(dir)
	program = filepath.Join(dir, "bellbuoy")
	build := exec.Command("go", "build", "-o", program, ".")
	build.Env = append(os.Environ(), "CGO_ENABLED=0")
	if out, err := build.CombinedOutput(); err != nil {
		fmt.Fprintf(os.Stderr, "build the program: %v\n%s", err, out)
		return 1
	}
	return m.Run()
}

// testdata is the folder of files that several rooms share.
var testdata = filepath.Join("..", "..", "testdata")

// TestScripts runs every script of testdata/script; its README says how to
// write one.
func TestScripts(t *testing.T) {
	dir := filepath.Join(testdata, "script")
	if found, err := filepath.Glob(filepath.Join(dir, "*.txtar")); err != nil || len(found) < 15 {
		t.Fatalf("%d scripts found (%v): the test looks in the wrong place", len(found), err)
	}
	data, err := filepath.Abs(testdata)
	if err != nil {
		t.Fatal(err)
	}
	testscript.Run(t, testscript.Params{
		Dir: dir,
		Setup: func(e *testscript.Env) error {
			e.Setenv("DATA", data)
			e.Setenv("PATH", filepath.Dir(program)+string(filepath.ListSeparator)+os.Getenv("PATH"))
			return nil
		},
		Cmds: map[string]func(*testscript.TestScript, bool, []string){
			"bellbuoy":   scriptBellbuoy,
			"exits":      scriptExits,
			"line-count": scriptLineCount,
			"awkward":    scriptAwkward,
		},
		RequireUniqueNames: true,
	})
}

// scriptBellbuoy runs the program, which must succeed.
func scriptBellbuoy(ts *testscript.TestScript, neg bool, args []string) {
	if neg {
		ts.Fatalf("ask for the exit code that you want: exits 1 bellbuoy ...")
	}
	ts.Check(ts.Exec("bellbuoy", args...))
}

// scriptExits runs a program and asks for its exit code: exits 2 bellbuoy due.
func scriptExits(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) < 2 {
		ts.Fatalf("usage: exits CODE PROGRAM [ARGUMENT...]")
	}
	want, err := strconv.Atoi(args[0])
	ts.Check(err)
	got := 0
	if err := ts.Exec(args[1], args[2:]...); err != nil {
		var ended *exec.ExitError
		if !errors.As(err, &ended) {
			ts.Fatalf("%v", err)
		}
		got = ended.ExitCode()
	}
	if got != want {
		ts.Fatalf("exit code %d, want %d", got, want)
	}
}

// scriptLineCount counts the lines of a file, or of stdout: line-count 3 stdout.
func scriptLineCount(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 2 {
		ts.Fatalf("usage: line-count N FILE")
	}
	if got := fmt.Sprint(strings.Count(ts.ReadFile(args[1]), "\n")); got != args[0] {
		ts.Fatalf("%s has %s lines, want %s", args[1], got, args[0])
	}
}

// scriptAwkward takes in every folder of testdata/awkward and asks that each is
// refused with its fault and changes nothing: awkward SETTINGS.
func scriptAwkward(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 1 {
		ts.Fatalf("usage: awkward SETTINGS")
	}
	folder := filepath.Join(ts.Getenv("DATA"), "awkward")
	rows, err := readCSV(filepath.Join(folder, "expected.csv"))
	ts.Check(err)
	before := scriptFacts(ts, args[0])
	for _, row := range rows {
		scriptExits(ts, false, []string{"1", "bellbuoy", "--config", args[0], "import", filepath.Join(folder, row["folder"])})
		at := fmt.Sprintf("%s:%s: ", row["file"], row["line"])
		if !hasLine(ts.ReadFile("stdout"), append(strings.Split(row["gist"], "|"), at, row["field"])) {
			ts.Fatalf("%s: no line with %q, %q and %q in\n%s", row["folder"], at, row["field"], row["gist"], ts.ReadFile("stdout"))
		}
		if after := scriptFacts(ts, args[0]); after != before {
			ts.Fatalf("%s: the shop was\n%snow it is\n%s", row["folder"], before, after)
		}
	}
	if len(rows) < 20 {
		ts.Fatalf("only %d awkward folders", len(rows))
	}
}

// scriptFacts is what the shop's file says about its week, which any fact that
// was taken in would change, and the rows that a plain intake finds unchanged.
func scriptFacts(ts *testscript.TestScript, settings string) string {
	ts.Check(ts.Exec("bellbuoy", "--config", settings, "import", "--dry-run", filepath.Join(ts.Getenv("DATA"), "worked")))
	report := ts.ReadFile("stdout")
	ts.Check(ts.Exec("bellbuoy", "--config", settings, "--json", "--today", "2026-11-25", "due"))
	return report + ts.ReadFile("stdout")
}

// hasLine reports whether one line holds all the words.
func hasLine(text string, words []string) bool {
	for line := range strings.Lines(text) {
		all := true
		for _, w := range words {
			all = all && strings.Contains(line, w)
		}
		if all {
			return true
		}
	}
	return false
}

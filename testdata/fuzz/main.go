// Fuzz runs every fuzz target of the repository, one after the other, and prints a
// line for each: how many inputs were tried, how many of them reached new code.
//
//	go run ./testdata/fuzz -time 15m -long 1h
//	go run ./testdata/fuzz -time 10s -targets 'bounce|FuzzWorkbook'
//
// What is found stands as a seed in testdata/fuzz of the target's package, from where
// every "go test" runs it. The inputs that reached new code are kept in Go's cache for the
// next run.
package main

import (
	"bytes"
	"errors"
	"flag"
	"fmt"
	"os"
	"os/exec"
	"regexp"
	"strings"
	"time"
)

// target is one function of a package, as bellbuoy/notify/bounce and FuzzParseBounce.
type target struct{ pkg, name string }

func (t target) String() string { return strings.TrimPrefix(t.pkg, "bellbuoy/") + ": " + t.name }

// longer are the targets that read what anybody can send us or what somebody uploads.
var longer = regexp.MustCompile(`FuzzParseBounce|FuzzWorkbook`)

func main() {
	if err := run(); err != nil {
		fmt.Fprintln(os.Stderr, "fuzz:", err)
		os.Exit(1)
	}
}

func run() error {
	each := flag.Duration("time", time.Minute, "how long each target runs")
	long := flag.Duration("long", 0, "how long bounces and workbooks run, if longer")
	only := flag.String("targets", "", "which targets run: a regular expression of package and name")
	parallel := flag.Int("parallel", 0, "processes for each target; 0 is one for each core")
	flag.Parse()
	chosen, err := regexp.Compile(*only)
	if err != nil {
		return err
	}
	all, err := targets()
	if err != nil {
		return err
	}
	fmt.Print("| target | ran | inputs | new | all that reach new code | found |\n|---|---|---|---|---|---|\n")
	var faults []error
	for _, t := range all {
		if !chosen.MatchString(t.String()) {
			continue
		}
		d := *each
		if longer.MatchString(t.name) {
			d = max(d, *long)
		}
		faults = append(faults, t.run(d, *parallel))
	}
	if len(faults) == 0 {
		return fmt.Errorf("no target matches %q", *only)
	}
	return errors.Join(faults...)
}

// targets asks go test for all fuzz targets, in the order of the packages.
func targets() (all []target, err error) {
	cmd := exec.Command("go", "test", "-list", "^Fuzz", "./...")
	cmd.Stderr = os.Stderr
	out, err := cmd.Output()
	if err != nil {
		return nil, fmt.Errorf("list the targets: %w\n%s", err, out)
	}
	var names []string
	for line := range strings.Lines(string(out)) {
		switch words := strings.Fields(line); {
		case len(words) == 1 && strings.HasPrefix(words[0], "Fuzz"):
			names = append(names, words[0])
		case len(words) > 1 && words[0] == "ok":
			for _, n := range names {
				all = append(all, target{words[1], n})
			}
			names = nil
		}
	}
	return all, nil
}

// minimize is how often an input that reaches new code is tried shorter. What takes a
// tenth of a second each, as an import does, spent nine tenths of its time on that when it
// was 5 s.
const minimize = "10x"

// progress is what go test says while it fuzzes.
var progress = regexp.MustCompile(`fuzz: elapsed: (\S+), execs: (\d+) .*new interesting: (\d+) \(total: (\d+)\)`)

// run fuzzes one target and prints its line. What it finds is the error.
func (t target) run(d time.Duration, parallel int) error {
	args := []string{"test", t.pkg, "-run", "^$", "-fuzz", "^" + t.name + "$", "-fuzztime", d.String(), "-fuzzminimizetime", minimize, "-timeout", "0"}
	if parallel > 0 {
		args = append(args, "-parallel", fmt.Sprint(parallel))
	}
	var out bytes.Buffer
	cmd := exec.Command("go", args...)
	cmd.Stdout, cmd.Stderr = &out, &out
	begun := time.Now()
	err := cmd.Run()
	inputs, fresh, total := "0", "0", "0"
	if all := progress.FindAllStringSubmatch(out.String(), -1); len(all) > 0 {
		last := all[len(all)-1]
		inputs, fresh, total = last[2], last[3], last[4]
	}
	found := "nothing"
	if err != nil {
		found = "A FAULT"
		err = fmt.Errorf("%s: %w\n%s", t, err, out.String())
		fmt.Fprintln(os.Stderr, err)
	}
	fmt.Printf("| `%s` | %s | %s | %s | %s | %s |\n", t, time.Since(begun).Round(time.Second), inputs, fresh, total, found)
	return err
}

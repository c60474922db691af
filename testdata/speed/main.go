// Speed measures what the program is fast at, each figure beside its reference in the
// same run, and prints the table of deploy/speed.md:
//
//	go run ./testdata/speed -keep DIR -write deploy/speed.md
//	go run ./testdata/speed -fleet 2000 -rows replan,due
//
// Each row is a benchmark of the repository, which "go test -bench" runs alone too. The
// fleet of 100,000 boats is made once and kept in DIR; the row "first" makes it. With
// -write the table takes the place of the one in the file, whose notes stay.
package main

import (
	"bufio"
	"cmp"
	"errors"
	"flag"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"runtime"
	"slices"
	"strconv"
	"strings"
	"time"
)

// run is what one benchmark measured: a figure by "benchmark unit", as "Replan/scan ns/op".
type run map[string]float64

// row is one line of the table, or more.
type row struct {
	name, pkg, bench string
	args             func(o options) []string
	time             string // as -benchtime
	lines            []line
}

// line is a figure, its reference and what it is to reach.
type line struct {
	what, reach string
	figure      func(run) string
	reference   func(run) string
}

type options struct {
	fleet int
	keep  string
}

const (
	appRoom   = "./cmd/bellbuoy/internal/app"
	webRoom   = "./cmd/bellbuoy/internal/web"
	storeRoom = "./store"
)

func fleetAndKeep(o options) []string {
	args := []string{"-fleet", strconv.Itoa(o.fleet)}
	if o.keep != "" {
		args = append(args, "-keep", o.keep)
	}
	return args
}

func justFleet(o options) []string { return []string{"-fleet", strconv.Itoa(o.fleet)} }

// grownShop is how many boats the workbook of the row "mapped" has, with ten times as many
// rows of work: what a shop has in its tables after ten years.
const grownShop = 3000

// ownersShop is the shop of the owner's pages, which are measured at 10,000 boats.
func ownersShop(o options) []string {
	args := []string{"-boats", strconv.Itoa(min(o.fleet, 10_000))}
	if o.keep != "" {
		args = append(args, "-keep", o.keep)
	}
	return args
}

// ownersPage is the line of one of those pages.
func ownersPage(what, bench, reach string) line {
	return line{"owner's pages: " + what, reach, f("OwnerPages/"+bench+" ms/op", 1, " ms"), f("OwnerPages/"+bench+" cpu-ms/op", 1, " ms of processor time")}
}

// plannedShop is the shop that the row "first" or "replan" has kept.
func plannedShop(o options) []string {
	if o.keep == "" {
		return nil
	}
	return []string{"-shop", filepath.Join(o.keep, fmt.Sprintf("fleet-%d", o.fleet))}
}

// f shows one figure of a run, divided, with a unit; "not measured" if it is not there.
func f(key string, by float64, unit string) func(run) string {
	return func(r run) string {
		v, ok := r[key]
		if !ok {
			return "not measured"
		}
		v /= by
		decimals := 0
		for limit := 100.0; v < limit && v > 0 && decimals < 4; limit /= 10 {
			decimals++
		}
		return strconv.FormatFloat(v, 'f', decimals, 64) + unit
	}
}

// ratio shows one figure as a multiple of another, which is then the reference.
func ratio(a, b string) func(run) string {
	return func(r run) string {
		if r[b] == 0 {
			return "not measured"
		}
		return fmt.Sprintf("%.2fx", r[a]/r[b])
	}
}

func none(run) string { return "" }

// rows are in the order in which the large fleet is made first.
var rows = []row{
	{"first", appRoom, "FirstPlan$", fleetAndKeep, "1x", []line{
		{"first plan, all of it", "3 minutes at 100,000", f("FirstPlan ns/op", 1e9, " s"), none},
		{"of it the plans", "", f("FirstPlan s-plans", 1, " s"), none},
		{"of it the weeks", "", f("FirstPlan s-weeks", 1, " s"), none},
		{"of it the calendars", "", f("FirstPlan s-calendars", 1, " s"), none},
	}},
	{"replan", appRoom, "Replan/(scan|sweep)", fleetAndKeep, "3x", []line{
		{"full re-plan, by the clock", "1.7x", ratio("Replan/sweep ns/op", "Replan/scan ns/op"), f("Replan/scan ns/op", 1e9, " s, scanning the rows")},
		{"full re-plan, processor time", "3.1x", ratio("Replan/sweep cpu-µs/boat", "Replan/scan cpu-µs/boat"), f("Replan/scan cpu-µs/boat", 1, " µs a boat, scanning")},
	}},
	{"change", appRoom, "Replan/one-change", fleetAndKeep, "1000x", []line{
		{"re-plan after one change, median", "4 ms", f("Replan/one-change ms-median", 1, " ms"), none},
		{"re-plan after one change, p99", "15 ms", f("Replan/one-change ms-p99", 1, " ms"), none},
		{"of 1,000 changes, those that filled all weeks again", "listed apart", f("Replan/one-change leveled", 1, ""), none},
		{"those, median", "", f("Replan/one-change leveled-ms-median", 1, " ms"), none},
	}},
	{"remind", appRoom, "Remind", fleetAndKeep, "3x", []line{
		{"an hour in which little is to be told, processor time", "", f("Remind/hour cpu-µs/boat", 1, " µs a boat"), f("Remind/in-words cpu-µs/boat", 1, " µs, every plan in words")},
	}},
	{"due", webRoom, "Week$", justFleet, "200x", []line{
		{"due list, p99", "50 ms at 100,000", f("Week ms-p99", 1, " ms"), none},
		{"due list, median", "", f("Week ms/page", 1, " ms"), f("Week ms/bare-SQL", 1, " ms, its rows by bare SQL")},
	}},
	{"feed", webRoom + "/feeds", "Feed$", nil, "5000x", []line{
		{"feed, unchanged", "0.85x", f("Feed/unchanged ours/bare", 1, "x"), func(run) string { return "a bare handler" }},
		{"feed, full", "0.85x", f("Feed/full ours/bare", 1, "x"), func(run) string { return "a bare handler" }},
	}},
	{"drain", appRoom, "Drain", nil, "3000x", []line{
		{"drain, crash-safe", "0.75x", ratio("Drain/library ns/op", "Drain/outbox ns/op"), f("Drain/library ns/op", 1e3, " µs an email, a bare loop")},
	}},
	{"csv", storeRoom, "Intake$", func(o options) []string { return []string{"-boats", strconv.Itoa(o.fleet)} }, "1x", []line{
		{"import of CSV", "25,000 rows/s", f("Intake rows/s", 1, " rows/s"), none},
		{"memory of that", "flat", f("Intake MB-sys", 1, " MB"), none},
	}},
	{"sheet", "./store/imports/sheet", "Text$", nil, "", []line{
		{"reading CSV, without the store", "", f("Text rows/s", 1, " rows/s"), none},
	}},
	{"mapped", "./store/imports", "IntakeMapped", func(o options) []string { return []string{"-boats", strconv.Itoa(min(o.fleet, grownShop))} }, "1x", []line{
		{"import of a grown workbook, with matching", "8,000 rows/s", f("IntakeMapped/workbook rows/s", 1, " rows/s"), f("IntakeMapped/read rows/s", 1, " rows/s, only reading its cells")},
		{"memory of that, its workbook made before", "bounded", f("IntakeMapped/workbook MB-sys", 1, " MB"), none},
		{"the same by processor time", "8,000 rows a processor second", f("IntakeMapped/workbook rows/cpu-s", 1, " rows"), none},
		{"import of the same as CSV, with matching", "25,000 rows/s", f("IntakeMapped/csv rows/s", 1, " rows/s"), none},
		{"the same by processor time", "25,000 rows a processor second", f("IntakeMapped/csv rows/cpu-s", 1, " rows"), none},
	}},
	{"owner", webRoom, "OwnerPages/^(owner|after-work)$", ownersShop, "5x", []line{
		ownersPage("money", "owner", "200 ms at 10,000"),
		ownersPage("money, after work was recorded", "after-work", "200 ms"),
		ownersPage("this season and last", "owner/compare", "200 ms"),
		ownersPage("season", "owner/season", "200 ms"),
		ownersPage("who comes back", "owner/returning", "200 ms"),
		ownersPage("ahead", "owner/ahead", "200 ms"),
		ownersPage("who stays away", "owner/lapsed", "200 ms"),
		ownersPage("work", "owner/work", "200 ms"),
		ownersPage("monthly report", "owner/report", "400 ms"),
	}},
	{"start", "./cmd/bellbuoy", "ServeStart", plannedShop, "5x", []line{
		{"first page after start", "250 ms at 100,000", f("ServeStart ms/first-page", 1, " ms"), none},
	}},
	{"night", "./cmd/bellbuoy", "ServeNight", plannedShop, "1x", []line{
		{"first turn of a new day", "60 s at 100,000", f("ServeNight s/turn", 1, " s"), none},
		{"pages meanwhile, p99", "100 ms", f("ServeNight ms-p99", 1, " ms"), f("ServeNight ms-p99-quiet", 1, " ms after it")},
	}},
	{"idle", "./cmd/bellbuoy", "ServeIdle", plannedShop, "1x", []line{
		{"idle, share of a core", "0.01% at 10,000", f("ServeIdle %cpu", 1, "%"), none},
		{"idle, memory", "50 MB at 10,000", f("ServeIdle MB-resident", 1, " MB"), f("ServeIdle MB-program", 1, " MB of it the program's file")},
	}},
}

func main() {
	if err := measure(); err != nil {
		fmt.Fprintln(os.Stderr, "speed:", err)
		os.Exit(1)
	}
}

func measure() error {
	o := options{}
	var names []string
	for _, r := range rows {
		names = append(names, r.name)
	}
	only := flag.String("rows", strings.Join(names, ","), "rows to measure")
	flag.IntVar(&o.fleet, "fleet", 100_000, "boats in the fleet")
	flag.StringVar(&o.keep, "keep", "", "folder in which the planned fleet is kept for other rows and runs; \"first\" or \"replan\" makes it")
	write := flag.String("write", "", "file whose table is replaced, above its first heading of the second level")
	flag.Parse()
	wanted := strings.Split(*only, ",")
	for _, w := range wanted {
		if !slices.Contains(names, w) {
			return fmt.Errorf("no row %q; there are %s", w, strings.Join(names, ", "))
		}
	}
	var err error
	if o.keep != "" {
		if o.keep, err = filepath.Abs(o.keep); err != nil { // a test runs in its own folder
			return err
		}
	}
	table := &strings.Builder{}
	out := io.MultiWriter(os.Stdout, table)
	begun := time.Now()
	head(out, o)
	for _, r := range rows {
		if !slices.Contains(wanted, r.name) {
			continue
		}
		begun, load := time.Now(), load()
		got, failed := r.measure(o)
		took := time.Since(begun).Round(time.Second)
		for _, l := range r.lines {
			fmt.Fprintf(out, "| %s | %s | %s | %s | %s | %s | %s |\n", r.name, l.what, l.figure(got), l.reference(got), l.reach, load, took)
		}
		err = errors.Join(err, failed)
	}
	fmt.Fprintf(out, "\nAll of it took %s.\n", time.Since(begun).Round(time.Second))
	if *write != "" {
		err = errors.Join(err, replaceTable(*write, table.String()))
	}
	return err
}

// replaceTable puts a table into a file in the place of the one above its notes.
func replaceTable(file, table string) error {
	was, err := os.ReadFile(file)
	if err != nil && !errors.Is(err, os.ErrNotExist) {
		return err
	}
	if i := strings.Index(string(was), "\n## "); i >= 0 {
		table += string(was[i:])
	}
	return os.WriteFile(file, []byte(table), 0o644)
}

// head is what comes before the rows: the machine, the commit and the moment.
func head(out io.Writer, o options) {
	commit, _ := exec.Command("git", "log", "-1", "--format=%h of %cs").Output()
	fmt.Fprintf(out, "# Speed\n\nWritten by `go run ./testdata/speed`; what each row measures is said there and in its benchmark.\n\n"+
		"A fleet of %d boats; %d cores, %s, %s/%s, Go %s; commit %s; begun %s, load average %s.\n\n",
		o.fleet, runtime.NumCPU(), clock(), runtime.GOOS, runtime.GOARCH, strings.TrimPrefix(runtime.Version(), "go"), strings.TrimSpace(string(commit)),
		time.Now().UTC().Format("2006-01-02 15:04 UTC"), load())
	fmt.Fprint(out, "| row | what | measured | beside | to reach | load before | took |\n|---|---|---|---|---|---|---|\n")
}

// clock is the processor's name and frequency as Linux tells them.
func clock() string {
	text, err := os.ReadFile("/proc/cpuinfo")
	if err != nil {
		return "clock unknown"
	}
	field := func(name string) string {
		m := regexp.MustCompile(`(?m)^` + name + `\s*: (.*)$`).FindSubmatch(text)
		if m == nil {
			return "unknown"
		}
		return string(m[1])
	}
	return field("model name") + " at " + field("cpu MHz") + " MHz"
}

// load is the load average of the last minute: above 0.3 the machine was not quiet.
func load() string {
	text, err := os.ReadFile("/proc/loadavg")
	if err != nil {
		return "unknown"
	}
	word, _, _ := strings.Cut(string(text), " ")
	return word
}

// measure runs the row's benchmark.
func (r *row) measure(o options) (run, error) {
	args := []string{"test", r.pkg, "-run", "xxx", "-bench", r.bench, "-benchtime", cmp.Or(r.time, "1s"), "-timeout", "60m"}
	if r.args != nil {
		args = append(args, r.args(o)...)
	}
	cmd := exec.Command("go", args...)
	cmd.Stderr = os.Stderr
	out, err := cmd.StdoutPipe()
	if err != nil {
		return nil, err
	}
	if err := cmd.Start(); err != nil {
		return nil, err
	}
	got := read(io.TeeReader(out, os.Stderr))
	if err := cmd.Wait(); err != nil {
		return got, fmt.Errorf("row %s: %w", r.name, err)
	}
	return got, nil
}

// processors ends the name of a benchmark.
var processors = regexp.MustCompile(`-\d+$`)

// read takes the figures out of what "go test -bench" prints.
func read(in io.Reader) run {
	got := run{}
	for lines := bufio.NewScanner(in); lines.Scan(); {
		words := strings.Fields(lines.Text())
		if len(words) < 4 || !strings.HasPrefix(words[0], "Benchmark") {
			continue
		}
		name := processors.ReplaceAllString(strings.TrimPrefix(words[0], "Benchmark"), "")
		for i := 2; i+1 < len(words); i += 2 {
			if v, err := strconv.ParseFloat(words[i], 64); err == nil {
				got[name+" "+words[i+1]] = v
			}
		}
	}
	return got
}

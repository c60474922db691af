package main

import (
	"context"
	"flag"
	"fmt"
	"net/http"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"bellbuoy/schedule/civil"
	"bellbuoy/store/accounts"
	"bellbuoy/store/storetest"
)

// A shop as the benchmark of a re-plan keeps it (-keep), so that a large one is
// not made again.
var (
	shopDir  = flag.String("shop", "", "folder of a planned shop that the daemon's benchmarks run on a copy of; by default one of 400 boats is made")
	shopDay  = flag.String("shop-day", "2026-11-25", "the day for which that shop was planned")
	idleTime = flag.Duration("idle", 2*time.Minute, "how long the idle daemon is watched, whole minutes: it has a turn in each")
)

// benchShop is a planned shop with somebody signed in, by the cookie returned.
func benchShop(b *testing.B) (*testShop, string) {
	b.Helper()
	var s *testShop
	if *shopDir == "" {
		s = inventedShop(b, demoSettings("127.0.0.1:8410", "127.0.0.1:1", false), 400, civil.Of(2026, time.November, 25))
	} else {
		s = &testShop{dir: b.TempDir(), today: *shopDay}
		if err := os.CopyFS(s.dir, os.DirFS(*shopDir)); err != nil {
			b.Fatal(err)
		}
	}
	h := s.open(b)
	ctx, now := b.Context(), time.Now()
	day, err := civil.Parse(s.today)
	if err != nil {
		b.Fatal(err)
	}
	until := day.AddMonths(1).At(0, 0, h.Config.Zone())
	const token = "a-session-of-this-benchmark-only"
	if err := accounts.SaveStaff(ctx, storetest.Writer(b, h.DB), now, "test", accounts.Staff{Name: "Inge", Role: "desk", Hash: "none"}); err != nil {
		b.Fatal(err)
	}
	if err := accounts.BeginSession(ctx, storetest.Writer(b, h.DB), day.At(0, 0, h.Config.Zone()), token, "Inge", until); err != nil {
		b.Fatal(err)
	}
	if err := h.Close(); err != nil {
		b.Fatal(err)
	}
	return s, "bellbuoy_session=" + token
}

// weekPage asks for the desk's first page.
func weekPage(b *testing.B, d *served, cookie string) {
	b.Helper()
	resp, body := d.get(b, http.MethodGet, d.base+"/", "Cookie", cookie)
	if resp.StatusCode != http.StatusOK || resp.Request.URL.Path != "/" || !strings.Contains(body, "This week") {
		b.Fatalf("%s: status %d\n%.500s", resp.Request.URL, resp.StatusCode, body)
	}
}

// BenchmarkServeStart measures the time from the start of the daemon's process
// until the week's list has come from it, on a shop that was planned for the
// day. The file is in the system's cache, as after a restart.
func BenchmarkServeStart(b *testing.B) {
	s, cookie := benchShop(b)
	s.serve(b).stop(b) // what the day's first tick does
	var took time.Duration
	for b.Loop() {
		begun := time.Now()
		d := s.serve(b)
		weekPage(b, d, cookie)
		took += time.Since(begun)
		d.stop(b)
	}
	b.ReportMetric(float64(took.Milliseconds())/float64(b.N), "ms/first-page")
}

// BenchmarkServeNight starts the daemon on the morning after the day for which the shop
// was planned, so that its first turn plans the whole fleet again, and asks for the
// week's list again and again until that turn has ended: how long it took and how long
// the pages did meanwhile, beside the same pages after it.
func BenchmarkServeNight(b *testing.B) {
	s, cookie := benchShop(b)
	s.serve(b).stop(b) // what the day's first tick does
	day, err := civil.Parse(s.today)
	if err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		day++
		s.today = day.String()
		d := s.serve(b)
		begun := time.Now()
		during := pagesUntil(b, d, cookie, func(int) bool { return turned(b, d) })
		b.ReportMetric(time.Since(begun).Seconds(), "s/turn")
		b.ReportMetric(percentile(during, 99), "ms-p99")
		b.ReportMetric(float64(len(during)), "pages")
		after := pagesUntil(b, d, cookie, func(n int) bool { return n == 200 })
		b.ReportMetric(percentile(after, 99), "ms-p99-quiet")
		d.stop(b)
	}
}

// pagesUntil asks for the week's list every twentieth of a second until it is done,
// and returns what each took.
func pagesUntil(b *testing.B, d *served, cookie string, done func(pages int) bool) (took []time.Duration) {
	b.Helper()
	for !done(len(took)) {
		begun := time.Now()
		weekPage(b, d, cookie)
		took = append(took, time.Since(begun))
		time.Sleep(50 * time.Millisecond)
	}
	return took
}

// percentile is in milliseconds.
func percentile(took []time.Duration, percent int) float64 {
	slices.Sort(took)
	return took[(len(took)-1)*percent/100].Seconds() * 1000
}

// turned reports whether a turn of the daemon has ended.
func turned(b *testing.B, d *served) bool {
	b.Helper()
	_, body := d.get(b, http.MethodGet, d.base+"/metrics")
	return strings.Contains(body, `bellbuoy_last_good_timestamp_seconds{what="turn"}`)
}

// BenchmarkServeIdle watches a daemon that nobody asks anything: its memory,
// after a page was shown, and its share of a processor.
func BenchmarkServeIdle(b *testing.B) {
	if runtime.GOOS != "linux" {
		b.Skip("reads /proc")
	}
	s, cookie := benchShop(b)
	d := s.serve(b)
	weekPage(b, d, cookie)
	untilQuiet(b, d)
	for b.Loop() {
		had := d.processor(b)
		select {
		case <-b.Context().Done():
		case <-time.After(*idleTime):
		}
		b.ReportMetric(100*(d.processor(b)-had).Seconds()/idleTime.Seconds(), "%cpu")
		b.ReportMetric(float64(d.resident(b))/(1<<20), "MB-resident")
		b.ReportMetric(float64(d.memory(b, "RssFile"))/(1<<20), "MB-program")
	}
	d.stop(b)
}

// untilQuiet waits until the day's first tick is done: five seconds without
// work.
func untilQuiet(b *testing.B, d *served) {
	b.Helper()
	ctx, cancel := context.WithTimeout(b.Context(), 10*time.Minute)
	defer cancel()
	for last, quiet := d.processor(b), 0; quiet < 5; {
		select {
		case <-ctx.Done():
			b.Fatal("the daemon does not come to rest")
		case <-time.After(time.Second):
		}
		if now := d.processor(b); now-last > 20*time.Millisecond {
			last, quiet = now, 0
		} else {
			quiet++
		}
	}
}

// processor is the time that the daemon has had on the processors, of all its threads.
// An idle one has a few thousandths of a second at a time; /proc/PID/stat counts by hundredths.
func (d *served) processor(b *testing.B) (total time.Duration) {
	b.Helper()
	tasks, err := filepath.Glob(d.proc("task/*/schedstat"))
	if err != nil || len(tasks) == 0 {
		b.Fatalf("%d threads, %v", len(tasks), err)
	}
	for _, t := range tasks {
		text, err := os.ReadFile(t)
		if err != nil {
			b.Fatal(err)
		}
		spent, _, _ := strings.Cut(string(text), " ")
		n, err := strconv.ParseInt(spent, 10, 64)
		if err != nil {
			b.Fatal(err)
		}
		total += time.Duration(n)
	}
	return total
}

// resident is how much of the daemon lies in memory, in bytes.
func (d *served) resident(b *testing.B) int64 { return d.memory(b, "VmRSS") }

// memory is one of the kernel's figures of the daemon's memory, in bytes.
func (d *served) memory(b *testing.B, figure string) int64 {
	b.Helper()
	status, err := os.ReadFile(d.proc("status"))
	if err != nil {
		b.Fatal(err)
	}
	_, after, _ := strings.Cut(string(status), figure+":")
	var kb int64
	if _, err := fmt.Sscan(after, &kb); err != nil {
		b.Fatal(err)
	}
	return kb << 10
}

func (d *served) proc(file string) string {
	return filepath.Join("/proc", strconv.Itoa(d.cmd.Process.Pid), file)
}

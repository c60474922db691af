package app_test

import (
	"database/sql"
	"errors"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"syscall"
	"testing"
	"time"

	"bellbuoy/cmd/bellbuoy/internal/app"
	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/store/archive"
)

// The size of the measured fleet; the targets are set for 100000.
var fleet = flag.Int("fleet", 1000, "boats in the fleet that benchmarks measure")

// Making a large fleet takes far longer than measuring it.
var keep = flag.String("keep", "", "folder in which the planned fleet is kept, as a shop, for the next run; by default none")

// BenchmarkReplan measures a full re-plan of a fleet and one after a single
// change, beside a bare scan of the rows that a full re-plan reads.
func BenchmarkReplan(b *testing.B) {
	today := d("2026-11-25")
	a := plannedApp(b, 3+*fleet/60, today)

	b.Run("scan", func(b *testing.B) { benchScan(b, a) })
	b.Run("sweep", func(b *testing.B) { benchSweep(b, a) })
	b.Run("fit", func(b *testing.B) {
		for b.Loop() {
			if _, err := a.Fit(b.Context(), today); err != nil {
				b.Fatal(err)
			}
		}
	})
	b.Run("one-change", func(b *testing.B) { benchOneChange(b, a) })
}

// plannedApp opens a planned fleet: a copy of the kept one if there is one.
func plannedApp(b *testing.B, crew int, today civil.Day) *app.App {
	file := filepath.Join(*keep, fmt.Sprintf("fleet-%d", *fleet), "bellbuoy.db")
	if *keep != "" {
		if _, err := os.Stat(file); err == nil {
			return openAppOn(b, crew, file)
		}
	}
	a := demoApp(b, crew, *fleet, 1, today)
	start := time.Now()
	settle(b, a, today)
	b.Logf("%d boats, first plan with weeks and feeds in %v", *fleet, time.Since(start).Round(time.Millisecond))
	keepApp(b, a, crew)
	return a
}

// keepApp keeps a planned fleet for the next run, if it is to be kept and is not yet.
func keepApp(b *testing.B, a *app.App, crew int) {
	kept := filepath.Join(*keep, fmt.Sprintf("fleet-%d", *fleet))
	file := filepath.Join(kept, "bellbuoy.db")
	if _, err := os.Stat(file); err == nil || *keep == "" {
		return
	}
	err := os.MkdirAll(kept, 0o700)
	if err == nil {
		err = os.WriteFile(filepath.Join(kept, "bellbuoy.toml"), []byte(settings(crew, "")), 0o600)
	}
	if err := errors.Join(err, archive.Backup(b.Context(), a.DB, file)); err != nil {
		b.Fatal(err)
	}
}

// factTables are what a full re-plan reads.
var factTables = []string{"boats", "components", "records", "readings", "follow_ups", "overrides", "bookings", "visits"}

func benchScan(b *testing.B, a *app.App) {
	q, err := sql.Open("sqlite", "file:"+a.DB.Path()+"?mode=ro")
	if err != nil {
		b.Fatal(err)
	}
	defer q.Close()
	rows, cpu := 0, processor()
	for b.Loop() {
		rows = 0
		for _, table := range factTables {
			rows += scan(b, q, table)
		}
	}
	b.ReportMetric(float64(rows), "rows")
	reportCPU(b, processor()-cpu)
}

// processor is the time that this process has had on the processors: on a busy
// machine it tells more than the clock.
func processor() time.Duration {
	var u syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &u); err != nil {
		return 0
	}
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}

// report says what one boat cost, by the clock and by the processors.
func reportCPU(b *testing.B, cpu time.Duration) {
	each := float64(b.N) * float64(*fleet)
	b.ReportMetric(float64(b.Elapsed().Microseconds())/each, "µs/boat")
	b.ReportMetric(float64(cpu.Microseconds())/each, "cpu-µs/boat")
}

// scan reads every row of a table into variables of its columns' types.
func scan(b *testing.B, q *sql.DB, table string) int {
	rows, err := q.QueryContext(b.Context(), "SELECT * FROM "+table)
	if err != nil {
		b.Fatal(err)
	}
	defer rows.Close()
	types, err := rows.ColumnTypes()
	if err != nil {
		b.Fatal(err)
	}
	dest := make([]any, len(types))
	for i, t := range types {
		switch t.DatabaseTypeName() {
		case "INTEGER":
			dest[i] = new(sql.NullInt64)
		case "REAL":
			dest[i] = new(sql.NullFloat64)
		default:
			dest[i] = new(sql.NullString)
		}
	}
	n := 0
	for ; rows.Next(); n++ {
		if err := rows.Scan(dest...); err != nil {
			b.Fatal(err)
		}
	}
	if err := rows.Err(); err != nil {
		b.Fatal(err)
	}
	return n
}

// benchSweep plans the fleet again; as on most nights, nearly no plan changes.
func benchSweep(b *testing.B, a *app.App) {
	today := d("2026-11-25")
	cpu := processor()
	for b.Loop() {
		done, err := a.Sweep(b.Context(), today.At(6, 0, a.Config.Zone()), today, nil)
		if err != nil || done.Boats < *fleet {
			b.Fatal(done, err)
		}
	}
	reportCPU(b, processor()-cpu)
}

// BenchmarkRemind asks for all customers of a fleet what is to be told them in an
// hour in which little is, and beside it what reading every plan in words costs.
func BenchmarkRemind(b *testing.B) {
	today := d("2026-11-25")
	a := plannedApp(b, 3+*fleet/60, today)
	at := today.At(10, 0, a.Config.Zone())
	remind := func() error { _, err := a.Remind(b.Context(), at); return err }
	if err := errors.Join(a.SwitchSending(b.Context(), at, "test", true), remind()); err != nil {
		b.Fatal(err) // after this the hour's emails are queued
	}
	inWords := func() error {
		return a.EachRecipient(b.Context(), func(*schedule.Recipient) error { return nil })
	}
	for _, way := range []struct {
		name string
		do   func() error
	}{{"hour", remind}, {"in-words", inWords}} {
		b.Run(way.name, func(b *testing.B) {
			cpu := processor()
			for b.Loop() {
				if err := way.do(); err != nil {
					b.Fatal(err)
				}
			}
			reportCPU(b, processor()-cpu)
		})
	}
}

// BenchmarkFirstPlan plans a fleet that was just taken in, by stage: the plans, the
// weeks, the calendars. With -keep the fleet is there for BenchmarkReplan.
func BenchmarkFirstPlan(b *testing.B) {
	today := d("2026-11-25")
	at := today.At(6, 0, time.UTC)
	for b.Loop() {
		b.StopTimer()
		a := demoApp(b, 3+*fleet/60, *fleet, 1, today)
		ids, err := a.DB.BoatIDs(b.Context())
		if err != nil {
			b.Fatal(err)
		}
		b.StartTimer()
		for _, stage := range []struct {
			name string
			do   func() error
		}{
			{"s-plans", func() error { _, err := a.Sweep(b.Context(), at, today, nil); return err }},
			{"s-weeks", func() error { _, err := a.Fit(b.Context(), today); return err }},
			{"s-calendars", func() error { return a.Publish(b.Context(), at, today, ids) }},
		} {
			begun := time.Now()
			if err := stage.do(); err != nil {
				b.Fatal(stage.name, err)
			}
			b.ReportMetric(time.Since(begun).Seconds(), stage.name)
		}
		b.StopTimer()
		if *keep != "" {
			settle(b, a, today) // stores the weeks
			keepApp(b, a, 3+*fleet/60)
		}
		b.StartTimer()
	}
}

// benchOneChange records a service and settles, boat after boat. A change after which
// all weeks are filled again is counted apart.
func benchOneChange(b *testing.B, a *app.App) {
	today := d("2026-11-25")
	ids, err := a.DB.BoatIDs(b.Context())
	if err != nil {
		b.Fatal(err)
	}
	var cpu time.Duration
	var each, leveled []time.Duration
	n := 0
	for b.Loop() {
		id := ids[(n*7919)%len(ids)]
		r := schedule.Record{BoatID: id, Day: today, Service: "engine-oil", By: schedule.ByShop}
		if _, err := a.Writer().AddRecord(b.Context(), today.At(10, 0, a.Config.Zone()), "test", r); err != nil {
			b.Fatal(err)
		}
		start, had := time.Now(), processor()
		done, err := a.Settle(b.Context(), today.At(10, 0, a.Config.Zone()), today, nil)
		if err != nil || done.Boats != 1 {
			b.Fatal(done, err)
		}
		if took := time.Since(start); done.Leveled {
			leveled = append(leveled, took)
		} else {
			each = append(each, took)
		}
		cpu += processor() - had
		n++
	}
	b.ReportMetric(float64(cpu.Microseconds())/float64(n)/1000, "cpu-ms/replan")
	b.ReportMetric(float64(len(leveled)), "leveled")
	for kind, took := range map[string][]time.Duration{"": each, "leveled-": leveled} {
		if len(took) == 0 {
			continue
		}
		slices.Sort(took)
		b.ReportMetric(took[len(took)/2].Seconds()*1000, kind+"ms-median")
		b.ReportMetric(took[len(took)*99/100].Seconds()*1000, kind+"ms-p99")
	}
}

//go:build unix

package imports_test

import (
	"bytes"
	"encoding/csv"
	"flag"
	"runtime"
	"syscall"
	"testing"
	"time"

	"github.com/xuri/excelize/v2"

	"bellbuoy/store/imports"
	"bellbuoy/store/imports/sheet"
)

var mappedBoats = flag.Int("boats", 1000, "boats in the workbook that BenchmarkIntakeMapped takes in, with ten times as many rows of work")

// BenchmarkIntakeMapped takes a grown workbook with all its dirt in through a mapping:
// rows are matched to customers and boats that other rows or sheets name otherwise.
// "csv" takes the same tables as text. "read" only reads the workbook's cells.
func BenchmarkIntakeMapped(b *testing.B) {
	shop := newMessyShop(b, *mappedBoats, 10**mappedBoats)
	data := shop.bytes()
	rows := 0
	for _, n := range shop.rows {
		rows += n
	}
	perSecond := func(b *testing.B) { b.ReportMetric(float64(rows*b.N)/b.Elapsed().Seconds(), "rows/s") }
	b.Run("read", func(b *testing.B) {
		for b.Loop() {
			w := book(b, "shop.xlsx", data)
			for _, s := range w.Sheets() {
				if err := w.Rows(s, func(sheet.Row) error { return nil }); err != nil {
					b.Fatal(err)
				}
			}
		}
		perSecond(b)
	})
	for name, books := range map[string]func(b *testing.B) []*sheet.Book{
		"workbook": func(b *testing.B) []*sheet.Book { return []*sheet.Book{book(b, "shop.xlsx", data)} },
		"csv":      func(b *testing.B) []*sheet.Book { return texts(b, data) },
	} {
		b.Run(name, func(b *testing.B) {
			var cpu time.Duration
			for b.Loop() {
				b.StopTimer()
				db := open(b)
				m := propose(b, book(b, "shop.xlsx", data), messyAnswers...)
				all := books(b)
				from := processor(b)
				b.StartTimer()
				rep, err := imports.IntakeMapped(b.Context(), db, noon, all, m, mapped(), imports.MappedOptions{Actor: "test", AcceptGood: true})
				if err != nil || rep.Rows != rows {
					b.Fatalf("%d rows of %d, %v", rep.Rows, rows, err)
				}
				cpu += processor(b) - from
			}
			perSecond(b)
			b.ReportMetric(float64(rows*b.N)/cpu.Seconds(), "rows/cpu-s")
			var m runtime.MemStats
			runtime.ReadMemStats(&m)
			b.ReportMetric(float64(m.Sys)/(1<<20), "MB-sys")
		})
	}
}

// processor is the time that this process has had on the processors: on a busy
// machine it tells more than the clock.
func processor(b *testing.B) time.Duration {
	b.Helper()
	var u syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &u); err != nil {
		b.Fatal(err)
	}
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}

// texts are a workbook's sheets as CSV files of the same names.
func texts(b *testing.B, workbook []byte) (all []*sheet.Book) {
	b.Helper()
	f, err := excelize.OpenReader(bytes.NewReader(workbook))
	if err != nil {
		b.Fatal(err)
	}
	defer f.Close()
	for _, name := range f.GetSheetList() {
		cells, err := f.GetRows(name)
		if err != nil {
			b.Fatal(err)
		}
		var text bytes.Buffer
		if err := csv.NewWriter(&text).WriteAll(cells); err != nil {
			b.Fatal(err)
		}
		all = append(all, book(b, name, text.Bytes()))
	}
	return all
}

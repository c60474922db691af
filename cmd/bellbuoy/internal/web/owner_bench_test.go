package web_test

import (
	"errors"
	"flag"
	"fmt"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"bellbuoy/schedule"
	"bellbuoy/store/accounts"
	"bellbuoy/store/archive"
	"bellbuoy/store/storetest"
)

var (
	ownerBoats = flag.Int("boats", 10_000, "boats of the shop that BenchmarkOwnerPages measures")
	ownerKeep  = flag.String("keep", "", "folder in which that shop is kept for the next run; by default none")
)

// BenchmarkOwnerPages measures each of the owner's pages, charts and lists through
// the whole server, at ten thousand boats with six years of history. Setting the
// shop up takes minutes; -keep DIR keeps it. Every request comes after a change,
// so that nothing kept from the one before is shown again. cpu-ms is what the
// processors gave, which tells more than the clock on a busy machine.
func BenchmarkOwnerPages(b *testing.B) {
	s := keptOwnerShop(b)
	cookie := s.hire("Odile", "owner")
	b.Run("after-work", func(b *testing.B) { benchAfterWork(b, s, cookie) })
	for _, path := range append(ownerPages(), "/owner/chart/money", "/owner/chart/rates", "/owner/chart/first", "/owner/chart/ahead", "/owner/chart/work") {
		if strings.Contains(path, "2001") {
			continue
		}
		b.Run(strings.TrimPrefix(path, "/"), func(b *testing.B) {
			var cpu time.Duration
			bytes := 0
			for b.Loop() {
				b.StopTimer()
				if err := accounts.SaveStaff(b.Context(), storetest.Writer(b, s.app.DB), s.now, "test", accounts.Staff{Name: "Inge", Role: "desk", Hash: "-"}); err != nil {
					b.Fatal(err)
				}
				from := processorTime(b)
				b.StartTimer()
				bytes = s.as(cookie, "GET", path, nil).code(http.StatusOK).Body.Len()
				cpu += processorTime(b) - from
			}
			b.ReportMetric(float64(cpu.Microseconds())/1000/float64(b.N), "cpu-ms/op")
			b.ReportMetric(float64(b.Elapsed().Microseconds())/1000/float64(b.N), "ms/op")
			b.ReportMetric(float64(bytes), "bytes")
		})
	}
}

// benchAfterWork asks for the page of the money after work was recorded, when the
// books are read anew.
func benchAfterWork(b *testing.B, s *testShop, cookie string) {
	ids, err := s.app.DB.BoatIDs(b.Context())
	if err != nil {
		b.Fatal(err)
	}
	var cpu time.Duration
	for n := 0; b.Loop(); n++ {
		b.StopTimer()
		r := schedule.Record{BoatID: ids[n%len(ids)], Day: s.today(), Service: "hull-wash", By: schedule.ByShop, Amount: 4200}
		if _, err := storetest.Writer(b, s.app.DB).AddRecord(b.Context(), s.now, "test", r); err != nil {
			b.Fatal(err)
		}
		from := processorTime(b)
		b.StartTimer()
		s.as(cookie, "GET", "/owner", nil).code(http.StatusOK)
		cpu += processorTime(b) - from
	}
	b.ReportMetric(float64(cpu.Microseconds())/1000/float64(b.N), "cpu-ms/op")
	b.ReportMetric(float64(b.Elapsed().Microseconds())/1000/float64(b.N), "ms/op")
}

// keptOwnerShop opens the shop that is measured: the kept one if there is one.
func keptOwnerShop(b *testing.B) *testShop {
	dir := filepath.Join(*ownerKeep, fmt.Sprintf("owner-%d", *ownerBoats))
	file := filepath.Join(dir, "bellbuoy.db")
	if *ownerKeep != "" {
		if data, err := os.ReadFile(file); err == nil {
			return testShopFrom(b, ownerSettings(), func(t testing.TB, path string) {
				if err := os.WriteFile(path, data, 0o600); err != nil {
					t.Fatal(err)
				}
			})
		}
	}
	s := emptyTestShop(b, ownerSettings())
	s.takeHistory(*ownerBoats)
	if *ownerKeep != "" {
		if err := errors.Join(os.MkdirAll(dir, 0o700), archive.Backup(b.Context(), s.app.DB, file)); err != nil {
			b.Fatal(err)
		}
	}
	return s
}

// processorTime is the time that this process has had on the processors.
func processorTime(b *testing.B) time.Duration {
	var u syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &u); err != nil {
		b.Fatal(err)
	}
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}

package app_test

import (
	"context"
	"log/slog"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync/atomic"
	"testing"
	"time"
)

// A daemon is told to stop at some place of its turn, day after day, the backup among
// them. Nothing has failed, so check finds nothing; and the next start, in the same
// hour, makes the copy that was not made.
func TestAStoppedBackupIsMadeAtTheNextStart(t *testing.T) {
	today := d("2026-11-30")
	a := demoApp(t, 3, 20, 1, today)
	log := slog.New(slog.DiscardHandler)
	stopped := 0
	for n := int64(1); n < 1<<13; n = n*3/2 + 1 {
		today++
		now := func() time.Time { return today.At(10, 0, a.Config.Zone()) }
		settle(t, a, today)
		ctx, end := context.WithCancel(t.Context())
		left := &atomic.Int64{}
		left.Store(n)
		if err := a.Tick(cutContext{ctx, left, end}, now, log); err != nil {
			stopped++
		}
		end()
		wrong, err := a.Check(t.Context(), today)
		if i := slices.IndexFunc(wrong, func(w string) bool { return strings.Contains(w, "backup") }); err != nil || i >= 0 {
			t.Errorf("stopped at %d: %v, %v", n, wrong, err)
		}
		if err := a.Tick(t.Context(), now, log); err != nil {
			t.Fatal(err)
		}
		file := filepath.Join(a.Config.Path(a.Config.Backup.Folder), "bellbuoy-"+today.String()+".db")
		if _, err := os.Stat(file); err != nil {
			t.Errorf("stopped at %d: %v", n, err)
		}
	}
	if stopped < 3 {
		t.Errorf("stopped %d times: that proves nothing", stopped)
	}
}

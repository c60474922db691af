package app_test

import (
	"fmt"
	"log/slog"
	"os"
	"path/filepath"
	"testing"
	"time"

	"bellbuoy/store/archive"
	"bellbuoy/store/storetest"
)

// TestDecadeOnDisk lives ten years with mail and the daemon's hourly notes, and
// prints what they take on disk. After the second year the messages' bytes grow no
// more, and no row of a message is gone.
func TestDecadeOnDisk(t *testing.T) {
	if testing.Short() {
		t.Skip("ten years take a quarter of a minute")
	}
	const boats = 20
	s := newDecade(t, boats)
	s.switchOn()
	var second, last diskUse
	for n := range 522 {
		s.week()
		s.remind()
		at := s.today.At(12, 0, s.h.Config.Zone())
		if err := s.h.Publish(t.Context(), at, s.today, s.ids); err != nil {
			t.Fatal(err)
		}
		storetest.Raw(t, s.h.Writer(), "UPDATE outbox SET state = 'sent', done_at = queued_at WHERE state = 'queued'",
			fmt.Sprintf(`INSERT INTO ticks WITH RECURSIVE hours (n) AS (SELECT 0 UNION ALL SELECT n + 1 FROM hours WHERE n < 167)
				SELECT j.value, strftime('%%Y-%%m-%%dT%%H', %[1]d + 3600 * n, 'unixepoch'), %[1]d + 3600 * n
				FROM json_each('["remind", "backup", "freeze"]') j, hours WHERE true ON CONFLICT DO NOTHING`, at.Unix()))
		if err := s.h.ThinTick(t.Context(), at, slog.New(slog.DiscardHandler)); err != nil {
			t.Fatal(err)
		}
		if n%52 != 51 {
			continue
		}
		was := last
		last = s.diskUse(at)
		t.Logf("year %2d: %v", n/52+1, last)
		if last.messages < was.messages || last.records < was.records {
			t.Errorf("rows are gone: %v a year ago, %v", was, last)
		}
		if n/52 == 1 {
			second = last
		}
	}
	if last.bytes > 2*second.bytes || last.ticks > 2*second.ticks {
		t.Errorf("messages and ticks grow: %v after two years, %v after ten", second, last)
	}
	if last.old > 0 {
		t.Errorf("%d messages are older than thirteen months and keep their bytes", last.old)
	}
}

// diskUse is what a shop takes on disk.
type diskUse struct {
	copy                          int64 // bytes of a backup
	bytes                         int64 // of messages
	messages, ticks, records, old int
}

func (d diskUse) String() string {
	return fmt.Sprintf("a copy takes %d kB; %d messages with %d kB, %d notes of turns, %d records", d.copy>>10, d.messages, d.bytes>>10, d.ticks, d.records)
}

func (s *decade) diskUse(at time.Time) (d diskUse) {
	path := filepath.Join(s.t.TempDir(), "copy.db")
	if err := archive.Backup(s.t.Context(), s.h.DB, path); err != nil {
		s.t.Fatal(err)
	}
	info, err := os.Stat(path)
	if err != nil {
		s.t.Fatal(err)
	}
	d.copy = info.Size()
	count := func(query string) int64 { return storetest.Count(s.t, s.h.Writer(), query) }
	d.bytes = count("SELECT coalesce(sum(length(raw)), 0) FROM outbox_raw")
	d.messages, d.ticks, d.records = int(count("SELECT count(*) FROM outbox")), int(count("SELECT count(*) FROM ticks")), int(count("SELECT count(*) FROM records"))
	d.old = int(count(fmt.Sprintf("SELECT count(*) FROM outbox JOIN outbox_raw ON letter_id = id WHERE length(raw) > 0 AND queued_at < %d", at.AddDate(0, -13, 0).Unix())))
	return d
}

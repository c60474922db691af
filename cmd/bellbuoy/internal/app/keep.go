package app

import (
	"context"
	"log/slog"
	"time"

	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/store/outbox"
	"bellbuoy/store/report"
)

// What the owner's figures keep is no change of the shop: no plan follows from it.

// KeepOutlook keeps what was expected of a season on its first day.
func (a *App) KeepOutlook(ctx context.Context, on civil.Day, visits []report.OutlookVisit) error {
	return report.SaveOutlook(ctx, a.db, on, visits)
}

// KeepSetting keeps a value under a name of the program's own.
func (a *App) KeepSetting(ctx context.Context, key string, value []byte) error {
	return a.db.SetSetting(ctx, key, value)
}

// QueueReport queues the monthly report to the owner.
func (a *App) QueueReport(ctx context.Context, at time.Time, report schedule.Message) error {
	_, err := a.enqueue(ctx, at, []outbox.NewMessage{{Message: report}})
	return err
}

// bytesKept is for how many months the bytes of a message are kept: as long as
// somebody may ask what a reminder of last season said.
const bytesKept = 13

// jobThin names the job of removing what is old, once a day.
const jobThin = "thin"

// thinTick removes once a day what nobody asks for any more; see [store.DB.Thin].
func (a *App) thinTick(ctx context.Context, at time.Time, log *slog.Logger) error {
	return a.OncePer(ctx, jobThin, a.Day(at).String(), at, func() error {
		done, err := a.db.Thin(ctx, at.AddDate(0, -bytesKept, 0), []string{jobRemind, jobBackup, jobFreeze, jobThin})
		if done.Messages+done.Events > 0 {
			log.InfoContext(ctx, "removed what is old", "messages", done.Messages, "events", done.Events, "ticks", done.Ticks)
		}
		return err
	})
}

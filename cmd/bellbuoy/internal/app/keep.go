package app

import (
	"context"
	"time"

	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/store/outbox"
	"bellbuoy/store/report"
)

// What the owner's figures keep is no change of the shop: no plan follows from it.

// KeepOutlook keeps what was expected of a season on its first day.
func (h *App) KeepOutlook(ctx context.Context, on civil.Day, visits []report.OutlookVisit) error {
	return report.SaveOutlook(ctx, h.db, on, visits)
}

// KeepSetting keeps a value under a name of the program's own.
func (h *App) KeepSetting(ctx context.Context, key string, value []byte) error {
	return h.db.SetSetting(ctx, key, value)
}

// QueueReport queues the monthly report to the owner.
func (h *App) QueueReport(ctx context.Context, at time.Time, report schedule.Message) error {
	_, err := outbox.Enqueue(ctx, h.db, at, []outbox.NewMessage{{Message: report}})
	return err
}

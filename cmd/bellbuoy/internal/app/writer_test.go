package app

import (
	"context"
	"log/slog"
	"time"

	"bellbuoy/store"
)

// Writer is what writes the shop's file, for tests of this package.
func (h *App) Writer() *store.DB { return h.db }

// ThinTick removes what is old, once a day.
func (h *App) ThinTick(ctx context.Context, at time.Time, log *slog.Logger) error {
	return h.thinTick(ctx, at, log)
}

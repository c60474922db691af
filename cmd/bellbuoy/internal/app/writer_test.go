package app

import (
	"context"
	"log/slog"
	"time"

	"bellbuoy/store"
)

// Writer is what writes the shop's file, for tests of this package.
func (a *App) Writer() *store.DB { return a.db }

// ThinTick removes what is old, once a day.
func (a *App) ThinTick(ctx context.Context, at time.Time, log *slog.Logger) error {
	return a.thinTick(ctx, at, log)
}

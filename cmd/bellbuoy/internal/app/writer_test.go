package app

import (
	"context"
	"log/slog"
	"time"

	"bellbuoy/cmd/bellbuoy/internal/config"
	"bellbuoy/store"
)

// Writer is what writes the shop's file, for tests of this package.
func (a *App) Writer() *store.DB { return a.db }

// FetchForecasts reads the forecasts of all places.
func (a *App) FetchForecasts(ctx context.Context, now time.Time) error {
	return a.fetchForecasts(ctx, now, func(config.ForecastSource) bool { return true })
}

// ThinTick removes what is old, once a day.
func (a *App) ThinTick(ctx context.Context, at time.Time, log *slog.Logger) error {
	return a.thinTick(ctx, at, log)
}

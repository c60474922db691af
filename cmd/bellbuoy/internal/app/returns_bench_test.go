package app_test

import (
	"context"
	"testing"

	"bellbuoy/cmd/bellbuoy/internal/figures"
	"bellbuoy/schedule/returns"
)

// benchBoats is the size of the shop that the figures are measured on; with
// -short a tenth of it.
const benchBoats = 10_000

// BenchmarkFigures measures each of the owner's pages, the books read again each
// time. Setting the shop up takes minutes.
func BenchmarkFigures(b *testing.B) {
	today, boats := theDay(b, figuresDay), benchBoats
	if testing.Short() {
		boats /= 10
	}
	a := soldShop(b, today, boats, 6, 1)
	ctx := context.Background()
	for _, page := range []struct {
		name string
		do   func(*figures.Ledger) error
	}{
		{"books", func(*figures.Ledger) error { return nil }},
		{"money", func(l *figures.Ledger) error { _, err := l.Revenue(ctx); return err }},
		{"season", func(l *figures.Ledger) error { _, err := l.Funnel(ctx, returns.SeasonOf(today)); return err }},
		{"returning", func(l *figures.Ledger) error { l.Rates(); l.Times("first"); l.Times("lapse"); return nil }},
		{"ahead", func(l *figures.Ledger) error { _, err := l.Expectation(ctx); return err }},
		{"away", func(l *figures.Ledger) error { _, err := l.Away(ctx); return err }},
		{"work", func(l *figures.Ledger) error { _, err := l.Workload(ctx); return err }},
		{"letter", func(l *figures.Ledger) error { _, err := l.MonthlyReport(ctx); return err }},
	} {
		b.Run(page.name, func(b *testing.B) {
			for b.Loop() {
				l, err := figures.Open(ctx, a, today)
				if err != nil {
					b.Fatal(err)
				}
				if err := page.do(l); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
	b.Run("replay", func(b *testing.B) {
		for b.Loop() {
			if err := figures.Replay(ctx, a, today, nil); err != nil {
				b.Fatal(err)
			}
		}
	})
}

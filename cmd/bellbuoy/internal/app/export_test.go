package app

import (
	"context"

	"bellbuoy/schedule/civil"
)

// FixLots makes the lots of a test the same each time it runs.
func (h *App) FixLots() { h.lotKey = []byte("the same lots in every run of a test") }

// Pencil fits all visits into weeks and returns the boats whose weeks changed.
func (h *App) Pencil(ctx context.Context, today civil.Day) ([]string, error) {
	p, err := h.pencilAll(ctx, today)
	return p.Boats, err
}

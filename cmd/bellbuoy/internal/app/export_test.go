package app

import (
	"context"

	"bellbuoy/schedule/civil"
)

// FixAssignment makes the lots of a test the same each time it runs.
func (h *App) FixAssignment() { h.assignmentKey = []byte("the same lots in every run of a test") }

// Pencil fits all visits into weeks and returns the boats whose weeks changed.
func (h *App) Pencil(ctx context.Context, today civil.Day) ([]string, error) {
	p, err := h.pencilAll(ctx, today)
	return p.Boats, err
}

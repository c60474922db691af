package app

import (
	"context"
	"errors"
	"slices"

	"bellbuoy/schedule/civil"
)

// FixAssignment makes the lots of a test the same each time it runs.
func (h *App) FixAssignment() { h.assignmentKey = []byte("the same lots in every run of a test") }

// Pencil fits all visits into weeks and returns the boats whose weeks changed.
func (h *App) Pencil(ctx context.Context, today civil.Day) ([]string, error) {
	p, err := h.pencilAll(ctx, today)
	return p.Boats, err
}

// Works reports whether anybody is at work on a day.
func (h *App) Works(ctx context.Context, d civil.Day) (bool, error) {
	days, err := h.workdays(ctx, d.Week(), d-1)
	return slices.ContainsFunc(days, func(w workday) bool { return w.day == d }), err
}

// ReturnPath is the return address of a letter.
func (h *App) ReturnPath(letter int64) (string, error) {
	if h.verp == nil {
		return "", errors.New("emails have no return address of their own")
	}
	return h.verp.Address(letter), nil
}

package app

import (
	"context"
	"errors"
	"slices"

	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
)

// FixAssignment makes the lots of a test the same each time it runs.
func (a *App) FixAssignment() { a.assignmentKey = []byte("the same lots in every run of a test") }

// Pencil fits all visits into weeks and returns the boats whose weeks changed.
func (a *App) Pencil(ctx context.Context, today civil.Day) ([]string, error) {
	p, err := a.pencilAll(ctx, today)
	return p.Boats, err
}

// EachOutline is [App.EachRecipient] as [App.Remind] first looks at customers.
func (a *App) EachOutline(ctx context.Context, fn func(*schedule.Recipient) error) error {
	places, err := a.Places(ctx)
	if err != nil {
		return err
	}
	return a.everyRecipient(ctx, a.boatsInOutline(places), fn)
}

// Works reports whether anybody is at work on a day.
func (a *App) Works(ctx context.Context, d civil.Day) (bool, error) {
	days, err := a.workdays(ctx, d.Week(), d-1)
	return slices.ContainsFunc(days, func(w workday) bool { return w.day == d }), err
}

// ReturnPath is the return address of a letter.
func (a *App) ReturnPath(letter int64) (string, error) {
	if a.verp == nil {
		return "", errors.New("emails have no return address of their own")
	}
	return a.verp.Address(letter), nil
}

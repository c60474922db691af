package store

import (
	"bellbuoy/schedule"
	"bellbuoy/store/internal/kernel"
	"errors"
	"fmt"
)

// The errors that callers branch on.
var (
	// ErrNotFound: no row has that id.
	ErrNotFound = kernel.ErrNotFound
	// ErrNone: the outbox has nothing to send now.
	ErrNone = schedule.ErrNone
	// ErrLostLease: another sender holds the letter, or its lease ran out.
	ErrLostLease = schedule.ErrLostLease
	// ErrNewer: the file was written by a newer program.
	ErrNewer = kernel.ErrNewer
	// ErrRefused: what was to be written contradicts what is known; the text
	// around it says what and what to do.
	ErrRefused = kernel.ErrRefused
	// ErrSent: the same form was taken before.
	ErrSent = fmt.Errorf("this form was sent before and its work is on file: %w", ErrRefused)
	// ErrStale: what somebody decided on has changed since they saw it.
	ErrStale = errors.New("it was changed meanwhile; check it again")
	// ErrInUse: another bellbuoy has the shop open, or is putting a backup in
	// its place.
	ErrInUse = kernel.ErrInUse
)

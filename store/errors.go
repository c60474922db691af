package store

import (
	"errors"

	"bellbuoy/schedule"
)

// The errors that callers branch on.
var (
	// ErrNotFound: no row has that id.
	ErrNotFound = errors.New("not found")
	// ErrNone: the outbox has nothing to send now.
	ErrNone = schedule.ErrNone
	// ErrLostLease: another sender holds the letter, or its lease ran out.
	ErrLostLease = errors.New("the letter's lease is lost")
	// ErrNewer: the file was written by a newer program.
	ErrNewer = errors.New("written by a newer version of bellbuoy; install that version or restore an older backup")
	// ErrRefused: what was to be written contradicts what is known; the text
	// around it says what and what to do.
	ErrRefused = errors.New("refused")
	// ErrIntake: the files have faults and nothing was taken in; the report
	// lists them.
	ErrIntake = errors.New("nothing was taken in")
)

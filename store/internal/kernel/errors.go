package kernel

import (
	"errors"
	"fmt"
)

// The errors that callers branch on.
var (
	// ErrNotFound: no row has that id.
	ErrNotFound = errors.New("not found")
	// ErrNewer: the file was written by a newer program.
	ErrNewer = errors.New("written by a newer version of bellbuoy; install that version or restore an older backup")
	// ErrRefused: what was to be written contradicts what is known; the text
	// around it says what and what to do.
	ErrRefused = errors.New("refused")
	// ErrInUse: another bellbuoy has the shop open, or is putting a backup in
	// its place.
	ErrInUse = errors.New("another bellbuoy is at work on the shop; stop it first")
)

// Wrap adds what was being done to an error, if there is one.
func Wrap(err error, format string, args ...any) error {
	if err == nil {
		return nil
	}
	return fmt.Errorf(format+": %w", append(args, err)...)
}

// OrRefused returns err, or if there is none a refusal with the reason.
func OrRefused(err error, reason string) error {
	if err != nil {
		return err
	}
	return fmt.Errorf("%s: %w", reason, ErrRefused)
}

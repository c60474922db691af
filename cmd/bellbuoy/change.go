package main

import (
	"context"
	"errors"

	"bellbuoy/cmd/bellbuoy/internal/app"
	"bellbuoy/store"
)

// actor is who stands in the audit log for a command.
const actor = "command line"

// changeJSON is what record, followup and override print with --json: the id of
// what was written down (none for what was taken back or overridden), what
// changed, in words, and how many penciled visits of the whole shop lie in
// another week.
type changeJSON struct {
	BoatID  string   `json:"boat_id"`
	ID      string   `json:"id,omitempty"`
	Changes []string `json:"changes"`
	Moved   int      `json:"moved"`
}

// doubted makes a refusal of the call of what is doubted about an entry: whoever
// means it says so with --sure.
func doubted(err error) error {
	if d := (*app.Doubtful)(nil); errors.As(err, &d) {
		return usagef("%s If it is right, say so with --sure", d)
	}
	return err
}

// printChange says what was done and what that changed.
func (a *cli) printChange(boatID, id, done string, c *app.Change) error {
	if a.asJSON {
		return a.printJSON(changeJSON{boatID, id, c.Words(a.format), c.Moved})
	}
	a.printf("%s\n", done)
	a.printWords(c)
	if len(c.Words(a.format)) == 0 {
		a.printf("  Nothing else changed.\n")
	}
	return nil
}

// printWords says what an act changed beside what was asked for.
func (a *cli) printWords(c *app.Change) {
	for _, s := range c.Words(a.format) {
		a.printf("  %s\n", s)
	}
}

// notOnFile says where ids are found, if an unknown boat or component is what is
// wrong with a change.
func notOnFile(ctx context.Context, h *app.App, boatID string, err error) error {
	if !errors.Is(err, store.ErrNotFound) {
		return err
	}
	if _, e := h.DB.Boat(ctx, boatID); errors.Is(e, store.ErrNotFound) {
		return noBoat(boatID)
	}
	return hinted{err, "\"bellbuoy plan " + boatID + " --json\" shows the boat's jobs with their components' ids"}
}

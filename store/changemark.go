package store

import (
	"context"

	"bellbuoy/store/internal/kernel"
)

// ChangeMark is another text whenever somebody changed the shop or an email was
// queued.
func (db *Reader) ChangeMark(ctx context.Context) (string, error) {
	mark, err := kernel.One(ctx, db.Read, kernel.FirstText, "SELECT coalesce((SELECT max(id) FROM audit), 0) || ' ' || coalesce((SELECT max(id) FROM outbox), 0)")
	return mark, kernel.Wrap(err, "ask whether the shop has changed")
}

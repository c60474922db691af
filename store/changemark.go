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

// notOfTheBooks are the changes that touch no boat, nobody's time with one and no
// record of work.
const notOfTheBooks = `'sign in', 'sign out everywhere', 'save staff', 'remove staff', 'unlock staff', 'book', 'cancel a booking', 'keep the booked day',
	'call note', 'reply', 'undo a reply', 'handle a reply', 'reminded', 'put on the call list', 'the day', 'order a part', 'choose emails', 'email came back',
	'send an email again', 'use an address again'`

// BooksMark is another text whenever a boat, who has it or work on record may have
// changed. Bookings, replies, emails and sign-ins leave it as it is.
func (db *Reader) BooksMark(ctx context.Context) (string, error) {
	mark, err := kernel.One(ctx, db.Read, kernel.FirstText, "SELECT coalesce((SELECT id FROM audit WHERE what NOT IN ("+notOfTheBooks+") ORDER BY id DESC LIMIT 1), 0) || ''")
	return mark, kernel.Wrap(err, "ask whether the books have changed")
}

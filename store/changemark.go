package store

import (
	"context"
	"database/sql"
	"slices"
	"strings"

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

// settingBooks names the setting that counts changes of the books that are not in
// the change history.
const settingBooks = "books-changed"

// MarkBooks has the next [Reader.BooksMark] be another one.
func MarkBooks(ctx context.Context, tx *sql.Tx) error {
	_, err := tx.ExecContext(ctx, `INSERT INTO settings (key, value) VALUES (?, CAST('1' AS BLOB))
		ON CONFLICT (key) DO UPDATE SET value = CAST(CAST(CAST(value AS TEXT) AS INTEGER) + 1 || '' AS BLOB)`, settingBooks)
	return err
}

// BooksMark is another text whenever a boat, who has it, work on record or the plan
// kept of a past day may have changed. Bookings, replies, emails and sign-ins leave it as it is.
func (db *Reader) BooksMark(ctx context.Context) (string, error) {
	mark, err := kernel.One(ctx, db.Read, kernel.FirstText, "SELECT coalesce((SELECT id FROM audit WHERE what NOT IN ("+notOfTheBooks+") ORDER BY id DESC LIMIT 1), 0) || ' ' || coalesce((SELECT CAST(value AS TEXT) FROM settings WHERE key = ?), '')", settingBooks)
	return mark, kernel.Wrap(err, "ask whether the books have changed")
}

// ofOneBoat are the changes of the books that touch the work and meters of the boat
// that they name, and nothing else that the books say.
const ofOneBoat = `'record work', 'remove a record', 'measure', 'remove a measurement', 'follow up', 'remove a follow-up', 'read a meter', 'remove a reading'`

// WorkSince lists the boats whose work may have changed since a [Reader.BooksMark], or since
// the mark that it returned before. all reports that more than the work of single boats may
// have changed, and so it does for a mark of "".
func (db *Reader) WorkSince(ctx context.Context, mark string) (boats []string, all bool, now string, err error) {
	now, err = kernel.One(ctx, db.Read, kernel.FirstText, "SELECT coalesce((SELECT max(id) FROM audit), 0) || ' ' || coalesce((SELECT CAST(value AS TEXT) FROM settings WHERE key = ?), '')", settingBooks)
	if err != nil {
		return nil, false, "", kernel.Wrap(err, "ask whose work has changed")
	}
	since, counted, _ := strings.Cut(mark, " ")
	if _, countedNow, _ := strings.Cut(now, " "); mark == "" || countedNow != counted {
		return nil, true, now, nil
	}
	boats, err = kernel.Collect(ctx, db.Read, kernel.FirstText, "SELECT DISTINCT iif(what IN ("+ofOneBoat+`), boat_id, '')
		FROM audit WHERE id > CAST(? AS INTEGER) AND what NOT IN (`+notOfTheBooks+")", since)
	return boats, slices.Contains(boats, ""), now, kernel.Wrap(err, "ask whose work has changed")
}

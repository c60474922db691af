package report

import (
	"context"

	"bellbuoy/store"
	"bellbuoy/store/internal/kernel"
)

// Topic is a part of the change history.
type Topic string

// The topics; [TopicAll] is everything.
const (
	TopicAll       Topic = ""
	TopicBoats     Topic = "boats"
	TopicCustomers Topic = "customers"
	TopicWeeks     Topic = "weeks"
	TopicMail      Topic = "email"
	TopicSettings  Topic = "settings"
)

// topics select the rows of a topic.
var topics = map[Topic]string{
	TopicAll:       "true",
	TopicBoats:     "boat_id <> ''",
	TopicCustomers: "customer_id <> ''",
	TopicWeeks:     "what IN ('book', 'cancel a booking', 'choose a week', 'let a week go', 'the day', 'add an absence', 'remove an absence', 'close a day', 'open a day', 'keep the booked day')",
	TopicMail: "(what IN ('reminded', 'email came back', 'choose emails', 'switch sending', 'send an email again', 'use an address again')" +
		" OR what LIKE 'revoke the %')",
	TopicSettings: "what IN ('save settings', 'save staff', 'remove staff', 'unlock staff', 'load a climate', 'forget a climate', 'import')",
}

// ChangeQuery asks for changes, newest first. Before is the id of the last one
// seen, 0 to begin.
type ChangeQuery struct {
	Actor  string // "" for everybody
	Topic  Topic
	Before int64
	Limit  int // 0 means 100
}

// AllChanges returns a page of the change history.
func AllChanges(ctx context.Context, db *store.Reader, q ChangeQuery) ([]Change, error) {
	where, ok := topics[q.Topic]
	if !ok {
		return nil, store.ErrNotFound
	}
	args := []any{q.Before, kernel.LimitOr(q.Limit)}
	if q.Actor != "" {
		where += " AND actor = ?3"
		args = append(args, q.Actor)
	}
	all, err := kernel.Collect(ctx, db.Read, readChange, "SELECT "+changeColumns+" FROM audit WHERE "+where+" AND (?1 = 0 OR id < ?1) ORDER BY id DESC LIMIT ?2", args...)
	return all, kernel.Wrap(err, "read the change history")
}

// Actors returns everybody who changed something, in order of name.
func Actors(ctx context.Context, db *store.Reader) ([]string, error) {
	all, err := kernel.Collect(ctx, db.Read, kernel.FirstText, `WITH RECURSIVE p(name) AS (SELECT min(actor) FROM audit
		UNION ALL SELECT (SELECT min(actor) FROM audit WHERE actor > name) FROM p WHERE name IS NOT NULL) SELECT name FROM p WHERE name IS NOT NULL`)
	return all, kernel.Wrap(err, "who changed something")
}

// PartNames returns how the parts of some boats are called, by their ids.
func PartNames(ctx context.Context, db *store.Reader, boats []string) (map[string]string, error) {
	type named struct{ id, name string }
	all, err := kernel.Collect(ctx, db.Read, func(c *kernel.Row) named { return named{c.Text(0), c.Text(1)} },
		"SELECT id, iif(label <> '', label, kind) FROM components WHERE boat_id IN (SELECT value FROM json_each(?))", kernel.IDList(boats))
	names := make(map[string]string, len(all))
	for _, n := range all {
		names[n.id] = n.name
	}
	return names, kernel.Wrap(err, "names of parts")
}

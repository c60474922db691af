package outbox

import (
	"cmp"
	"context"
	"database/sql"
	"maps"
	"slices"
	"time"

	"bellbuoy/store"
	"bellbuoy/store/internal/kernel"
)

// Stops are what a shop knows about email addresses, by address in lower case, for
// its sister shops: of several words about one the last holds, wherever it was said.
type Stops struct {
	Choices map[string]Choice
	Works   map[string]Works
}

// Choice is which emails the holder of an address wants no more.
type Choice struct {
	NoReminders, NoMail bool
	Since               time.Time
	SaidAt              string // the shop in which it was said, "" for the one that was asked
}

// Works is whether an address works.
type Works struct {
	Dead    bool
	Reason  string // why it is dead
	Since   time.Time
	FoundAt string // the shop that found it dead, "" for the one that was asked
}

// StopsOf reads what a shop knows.
func StopsOf(ctx context.Context, db *store.Reader) (s Stops, err error) {
	err = db.Snapshot(ctx, func(tx *sql.Tx) error {
		s, err = stopsOf(ctx, tx)
		return err
	})
	return s, kernel.Wrap(err, "read what sister shops are to know of addresses")
}

func stopsOf(ctx context.Context, q kernel.Querier) (Stops, error) {
	s := Stops{Choices: make(map[string]Choice), Works: make(map[string]Works)}
	type said struct {
		address string
		Choice
	}
	choices, err := kernel.Collect(ctx, q, func(c *kernel.Row) said {
		return said{c.Text(0), Choice{c.Bool(1), c.Bool(2), c.Instant(3), c.Text(4)}}
	}, "SELECT lower(c.email), o.no_reminders, o.no_mail, o.since, o.said_at FROM opt_outs o JOIN customers c ON c.id = o.customer_id WHERE c.email <> ''")
	if err != nil {
		return s, err
	}
	for _, x := range choices { // several customers may share an address: what any of them wants no more is not sent to it
		was := s.Choices[x.address]
		if x.Since.After(was.Since) {
			was.Since, was.SaidAt = x.Since, x.SaidAt
		}
		was.NoReminders, was.NoMail = was.NoReminders || x.NoReminders, was.NoMail || x.NoMail
		s.Choices[x.address] = was
	}
	type found struct {
		address string
		Works
	}
	works, err := kernel.Collect(ctx, q, func(c *kernel.Row) found {
		return found{c.Text(0), Works{c.Bool(1), c.Text(2), c.Instant(3), c.Text(4)}}
	}, "SELECT address, 0, '', since, '' FROM revived UNION ALL SELECT address, 1, reason, since, found_at FROM suppressions")
	for _, x := range works { // what is dead stands after what was revived
		s.Works[x.address] = x.Works
	}
	return s, err
}

// TakeOver has what was last said in a sister shop hold in this one, whose name is
// self, for addresses that its customers have: emails that wait are withdrawn, and the
// history says where it comes from. It returns how many customers and addresses it
// changed.
func TakeOver(ctx context.Context, db *store.DB, now time.Time, self, sister string, theirs Stops) (int, error) {
	t := takeover{self: self, sister: sister, theirs: theirs, now: now}
	err := db.Snapshot(ctx, func(tx *sql.Tx) error { return t.find(ctx, tx) })
	if err == nil && t.news() > 0 {
		err = db.Tx(ctx, func(tx *sql.Tx) error {
			if err := t.find(ctx, tx); err != nil { // it may have changed since
				return err
			}
			return t.write(ctx, tx)
		})
	}
	return t.news(), kernel.Wrap(err, "take over what was said at %q", sister)
}

// takeover is what a sister shop has to say that is news here.
type takeover struct {
	self, sister string
	theirs       Stops
	now          time.Time
	chosen       map[string]Choice // by customer
	works        map[string]Works  // by address
}

func (t *takeover) news() int { return len(t.chosen) + len(t.works) }

// find compares what the sister knows with what this shop does.
func (t *takeover) find(ctx context.Context, q kernel.Querier) error {
	t.chosen, t.works = make(map[string]Choice), make(map[string]Works)
	mine, err := stopsOf(ctx, q)
	if err != nil {
		return err
	}
	type holder struct {
		id, address string
		Choice
	}
	asked := slices.Collect(maps.Keys(t.theirs.Choices))
	asked = slices.AppendSeq(asked, maps.Keys(t.theirs.Works))
	holders, err := kernel.Collect(ctx, q, func(c *kernel.Row) holder {
		return holder{c.Text(0), c.Text(1), Choice{c.Bool(2), c.Bool(3), c.Instant(4), ""}}
	}, `SELECT c.id, lower(c.email), coalesce(o.no_reminders, 0), coalesce(o.no_mail, 0), o.since
		FROM (SELECT DISTINCT value FROM json_each(?)) j CROSS JOIN customers c ON c.email = j.value COLLATE NOCASE AND c.email <> ''
		LEFT JOIN opt_outs o ON o.customer_id = c.id`, kernel.IDList(asked))
	if err != nil {
		return err
	}
	for _, h := range holders {
		if c, ok := t.theirs.Choices[h.address]; ok && c.SaidAt != t.self && c.after(h.Choice) && !mine.Choices[h.address].Since.After(c.Since) {
			t.chosen[h.id] = c
		}
		if w, ok := t.theirs.Works[h.address]; ok && w.FoundAt != t.self && w.after(mine.Works[h.address]) {
			t.works[h.address] = w
		}
	}
	return nil
}

// after reports whether a choice replaces another one: it differs, and was made
// later, or in the same second and is the more cautious.
func (c Choice) after(was Choice) bool {
	more := c.NoReminders && !was.NoReminders || c.NoMail && !was.NoMail
	return (c.NoReminders != was.NoReminders || c.NoMail != was.NoMail) && (c.Since.After(was.Since) || c.Since.Equal(was.Since) && more)
}

// after reports the same of what is known of an address.
func (w Works) after(was Works) bool {
	return w.Dead != was.Dead && (w.Since.After(was.Since) || w.Since.Equal(was.Since) && w.Dead)
}

// write writes down what was found to be news.
func (t *takeover) write(ctx context.Context, tx kernel.Querier) error {
	actor := t.sister + " (sister shop)"
	for id, c := range t.chosen {
		if err := store.SetOptOut(ctx, tx, t.now, actor, id, c.NoReminders, c.NoMail); err != nil {
			return err
		}
		_, err := tx.ExecContext(ctx, "UPDATE opt_outs SET since = ?, said_at = ? WHERE customer_id = ?", c.Since.Unix(), cmp.Or(c.SaidAt, t.sister), id)
		if err != nil {
			return err
		}
	}
	for address, w := range t.works {
		change := func() error { return unsuppress(ctx, tx, t.now, actor, address, w.Since) }
		if w.Dead {
			if w.FoundAt == "" {
				w.Reason, w.FoundAt = "at "+t.sister+": "+w.Reason, t.sister
			}
			change = func() error { return t.suppress(ctx, tx, actor, address, w) }
		}
		if err := change(); err != nil {
			return err
		}
	}
	return nil
}

// suppress writes down that an address was found dead at a sister shop.
func (t *takeover) suppress(ctx context.Context, tx kernel.Querier, actor, address string, w Works) error {
	if err := suppress(ctx, tx, address, w.Reason, t.now); err != nil {
		return err
	}
	_, err := tx.ExecContext(ctx, "UPDATE suppressions SET since = ?, found_at = ? WHERE address = ?", w.Since.Unix(), w.FoundAt, address)
	if err != nil {
		return err
	}
	return kernel.Audit(ctx, tx, t.now, kernel.Entry{Actor: actor, What: "suppress an address", After: map[string]string{"address": address, "reason": w.Reason}})
}

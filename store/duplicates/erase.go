package duplicates

import (
	"context"
	"database/sql"
	"fmt"
	"strings"
	"time"

	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/store"
	"bellbuoy/store/internal/kernel"
	"bellbuoy/store/internal/tables"
)

// ErasedName stands where a customer's name was.
const ErasedName = "Erased customer"

// Erasure says what erasing a customer did.
type Erasure struct {
	Boats    []string // boats whose owner the customer was until today
	Messages int      // letters whose bytes and address were removed
}

// EraseCustomer removes what is known of a person: name, ways to reach them,
// what they heard, said and were told, the bytes of their letters, and notes
// about work that name them. Their time with a boat ends today, and mail to them
// is off for good. What the shop did stays with the boat: days, services, hours
// and money. The audit log keeps that this and earlier changes happened, when
// and by whom, and not what they said. Doing it again does no harm. It cannot be taken back, and backups and
// exports made before still hold the person until they are removed.
func EraseCustomer(ctx context.Context, db *store.DB, now time.Time, actor, id string, today civil.Day) (Erasure, error) {
	var done Erasure
	err := db.Tx(ctx, func(tx *sql.Tx) (err error) {
		done, err = eraseCustomer(ctx, tx, now, actor, id, today)
		return err
	})
	if err != nil {
		return done, fmt.Errorf("erase customer %q: %w", id, err)
	}
	return done, kernel.Wrap(forget(ctx, db), "erase customer %q: what was removed may still lie in the file's free space; try again", id)
}

// forget writes the file again without its free space, in which removed rows lie
// on, and empties the log.
func forget(ctx context.Context, db *store.DB) error {
	for _, s := range []string{"VACUUM", "PRAGMA wal_checkpoint(TRUNCATE)"} {
		if _, err := db.Write.ExecContext(ctx, s); err != nil {
			return err
		}
	}
	return nil
}

func eraseCustomer(ctx context.Context, tx kernel.Querier, now time.Time, actor, id string, today civil.Day) (done Erasure, err error) {
	c, err := tables.Customer(ctx, tx, id)
	if err != nil {
		return done, err
	}
	if c == erased(id) {
		return done, nil // only the file's free space may be left to do
	}
	if err := refuseMerged(ctx, tx, id); err != nil {
		return done, err
	}
	if done.Boats, err = endOwnerships(ctx, tx, now, actor, id, today); err != nil {
		return done, err
	}
	if err := store.SetOptOut(ctx, tx, now, actor, id, true, true); err != nil {
		return done, err
	}
	if _, err := store.BumpFeed(ctx, tx, now, store.FeedCustomer, id); err != nil {
		return done, err
	}
	letters, err := kernel.One(ctx, tx, kernel.FirstInt, "SELECT count(*) FROM outbox WHERE customer_id = ?", id)
	if err != nil {
		return done, err
	}
	done.Messages = int(letters)
	if err := store.SeeToAnswers(ctx, tx, now, actor, "customer_id = ?", id); err != nil {
		return done, err
	}
	for _, s := range erasures() {
		args := []any{sql.Named("id", id), sql.Named("email", strings.ToLower(c.Email))}
		if _, err := tx.ExecContext(ctx, s, args...); err != nil {
			return done, err
		}
	}
	if err := eraseMentions(ctx, tx, &c); err != nil {
		return done, err
	}
	if _, err := tables.PutCustomer(ctx, tx, erased(id)); err != nil {
		return done, err
	}
	return done, kernel.Audit(ctx, tx, now, kernel.Entry{Actor: actor, What: "erase a customer", CustomerID: id})
}

// erased is what stays of a customer.
func erased(id string) schedule.Customer {
	return schedule.Customer{ID: id, Name: ErasedName, ContactBy: "none"}
}

// endOwnerships gives the customer's boats back to the shop.
func endOwnerships(ctx context.Context, tx kernel.Querier, now time.Time, actor, id string, today civil.Day) ([]string, error) {
	type owned struct {
		boat string
		from civil.Day
	}
	all, err := kernel.Collect(ctx, tx, func(c *kernel.Row) owned { return owned{c.Text(0), c.Day(1)} },
		"SELECT boat_id, from_day FROM ownerships WHERE customer_id = ? AND to_day IS NULL ORDER BY boat_id", id)
	if err != nil {
		return nil, err
	}
	var boats []string
	for _, o := range all {
		// An owner has a boat for a day at least.
		if err := store.SetOwner(ctx, tx, now, actor, o.boat, "", max(today, o.from+1)); err != nil {
			return nil, err
		}
		boats = append(boats, o.boat)
	}
	return boats, nil
}

// erasures are the statements that remove everything kept under a customer's
// id or mail address.
func erasures() []string {
	then := fmt.Sprintf(tables.TimesOwned, "date(t.at, 'unixepoch')")
	return []string{
		`UPDATE returned SET address = '', why = '' WHERE letter_id IN (SELECT id FROM outbox WHERE customer_id = :id)
			OR lower(address) = :email AND :email <> ''`,
		"UPDATE outbox_raw SET raw = x'' WHERE letter_id IN (SELECT id FROM outbox WHERE customer_id = :id)",
		"UPDATE outbox SET to_address = '', from_address = '', subject = '', names = '', answer = '' WHERE customer_id = :id",
		"UPDATE invitations SET address = '' WHERE customer_id = :id",
		"DELETE FROM heard WHERE customer_id = :id",
		"DELETE FROM to_ring WHERE customer_id = :id",
		"DELETE FROM suppressions WHERE address = :email AND :email <> ''",
		"DELETE FROM revived WHERE address = :email AND :email <> ''",
		"UPDATE transfers SET consent_by = '', consent_how = '' WHERE customer_id = :id",
		"UPDATE answers SET note = '', changed = '{}' WHERE customer_id = :id",
		"UPDATE calls SET note = '' WHERE customer_id = :id",
		"UPDATE said AS t SET words = '' WHERE " + then,
		"DELETE FROM boat_notes AS t WHERE " + then,
		"UPDATE audit SET before = NULL, after = NULL WHERE customer_id = :id",
		"UPDATE audit AS t SET before = NULL, after = NULL WHERE what IN ('note what the customer said', 'note on the boat') AND " + then,
	}
}

// shortestMention is how long a name or a number must be to be looked for in
// notes: a shorter one would be found inside other words.
const shortestMention = 4

// eraseMentions empties notes and entries of the audit log in which the customer
// is named.
func eraseMentions(ctx context.Context, tx kernel.Querier, c *schedule.Customer) error {
	then := fmt.Sprintf(tables.TimesOwned, "t.day")
	for _, word := range []string{c.Name, c.Email, c.Phone, c.Address} {
		if len(word) < shortestMention {
			continue
		}
		for _, s := range []string{
			"UPDATE records AS t SET note = '' WHERE instr(lower(note), lower(:word)) AND " + then,
			"UPDATE measurements AS t SET words = '' WHERE instr(lower(words), lower(:word)) AND " + then,
			`UPDATE follow_ups SET finding = '' WHERE instr(lower(finding), lower(:word)) AND boat_id IN
				(SELECT boat_id FROM ownerships WHERE customer_id = :id)`,
			`UPDATE audit SET before = NULL, after = NULL
				WHERE instr(lower(coalesce(before, '') || coalesce(after, '')), lower(:word))`,
		} {
			if _, err := tx.ExecContext(ctx, s, sql.Named("word", word), sql.Named("id", c.ID)); err != nil {
				return err
			}
		}
	}
	return nil
}

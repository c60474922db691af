package accounts

import (
	"context"
	"crypto/sha256"
	"database/sql"
	"fmt"
	"strings"
	"time"

	"bellbuoy/store"
	"bellbuoy/store/internal/kernel"
)

// Staff is somebody who works in the shop and may sign in.
type Staff struct {
	Name string // unique, small and capital letters alike
	Role string // "technician", "desk" or "owner"
	// Hash is the password's, in Argon2id's text form; the store never sees a
	// password.
	Hash  string
	Since time.Time
	// Unlocked is when the wrong passwords under this name were last forgiven;
	// the zero time if they never were.
	Unlocked time.Time
}

const staffColumns = "name, role, hash, since, unlocked"

func readStaff(c *kernel.Row) Staff {
	return Staff{Name: c.Text(0), Role: c.Text(1), Hash: c.Text(2), Since: c.Instant(3), Unlocked: c.Instant(4)}
}

// SaveStaff adds somebody or gives them a new role or password. Their sessions
// end: whoever was signed in under the old ones must sign in again.
func SaveStaff(ctx context.Context, db *store.DB, now time.Time, actor string, s Staff) error {
	err := db.Tx(ctx, func(tx *sql.Tx) error { return saveStaff(ctx, tx, now, actor, s) })
	return kernel.Wrap(err, "save staff %q", s.Name)
}

func saveStaff(ctx context.Context, tx *sql.Tx, now time.Time, actor string, s Staff) error {
	s.Name = strings.TrimSpace(s.Name)
	if s.Name == "" || s.Hash == "" {
		return fmt.Errorf("it needs a name and a password: %w", store.ErrRefused)
	}
	_, err := tx.ExecContext(ctx, `INSERT INTO staff (name, role, hash, since) VALUES (?, ?, ?, ?)
		ON CONFLICT (name) DO UPDATE SET role = excluded.role, hash = excluded.hash`, s.Name, s.Role, s.Hash, now.Unix())
	if err != nil {
		return err
	}
	if err := unlock(ctx, tx, now, s.Name); err != nil { // guesses at the old password
		return err
	}
	if _, err := tx.ExecContext(ctx, "DELETE FROM sessions WHERE staff = ?", s.Name); err != nil {
		return err
	}
	return kernel.Audit(ctx, tx, now, kernel.Entry{Actor: actor, What: "save staff", After: map[string]string{"name": s.Name, "role": s.Role}})
}

// Unlock forgives the wrong passwords under a name: the daemon, which counts
// them, sees it at the next attempt. [store.ErrNotFound] if nobody has that name.
func Unlock(ctx context.Context, db *store.DB, now time.Time, actor, name string) error {
	err := db.Tx(ctx, func(tx *sql.Tx) error {
		if err := unlock(ctx, tx, now, name); err != nil {
			return err
		}
		return kernel.Audit(ctx, tx, now, kernel.Entry{Actor: actor, What: "unlock staff", After: name})
	})
	return kernel.Wrap(err, "unlock staff %q", name)
}

// unlock moves the moment on by a second at least, so that two are told apart.
func unlock(ctx context.Context, tx *sql.Tx, now time.Time, name string) error {
	r, err := tx.ExecContext(ctx, "UPDATE staff SET unlocked = max(coalesce(unlocked, 0) + 1, ?) WHERE name = ?", now.Unix(), strings.TrimSpace(name))
	n, err := kernel.Affected(r, err)
	if err == nil && n == 0 {
		err = store.ErrNotFound
	}
	return err
}

// RemoveStaff takes somebody off the list and ends their sessions;
// [store.ErrNotFound] if nobody has that name.
func RemoveStaff(ctx context.Context, db *store.DB, now time.Time, actor, name string) error {
	err := db.Tx(ctx, func(tx *sql.Tx) error { return removeStaff(ctx, tx, now, actor, name) })
	return kernel.Wrap(err, "remove staff %q", name)
}

func removeStaff(ctx context.Context, tx *sql.Tx, now time.Time, actor, name string) error {
	old, err := kernel.One(ctx, tx, readStaff, "DELETE FROM staff WHERE name = ? RETURNING "+staffColumns, name)
	if err != nil {
		return err
	}
	return kernel.Audit(ctx, tx, now, kernel.Entry{Actor: actor, What: "remove staff", Before: map[string]string{"name": old.Name, "role": old.Role}})
}

// Staff returns everybody who may sign in, in order of name.
func All(ctx context.Context, db *store.Reader) ([]Staff, error) {
	all, err := kernel.Collect(ctx, db.Read, readStaff, "SELECT "+staffColumns+" FROM staff ORDER BY name")
	return all, kernel.Wrap(err, "list the staff")
}

// StaffByName returns one; [store.ErrNotFound] if nobody has that name.
func ByName(ctx context.Context, db *store.Reader, name string) (Staff, error) {
	s, err := kernel.One(ctx, db.Read, readStaff, "SELECT "+staffColumns+" FROM staff WHERE name = ?", strings.TrimSpace(name))
	if err != nil {
		return s, fmt.Errorf("staff %q: %w", name, err)
	}
	return s, nil
}

// sessionHash is what the file keeps of a session's token.
func sessionHash(token string) []byte {
	sum := sha256.Sum256([]byte(token))
	return sum[:]
}

// BeginSession remembers that somebody signed in; token is what the browser
// will show until the session ends. Sessions that ended are swept away.
func BeginSession(ctx context.Context, db *store.DB, now time.Time, token, name string, until time.Time) error {
	err := db.Tx(ctx, func(tx *sql.Tx) error {
		if _, err := tx.ExecContext(ctx, "DELETE FROM sessions WHERE until <= ?", now.Unix()); err != nil {
			return err
		}
		_, err := tx.ExecContext(ctx, "INSERT INTO sessions (hash, staff, begun, until) VALUES (?, ?, ?, ?)",
			sessionHash(token), name, now.Unix(), until.Unix())
		if err != nil {
			return err
		}
		return kernel.Audit(ctx, tx, now, kernel.Entry{Actor: name, What: "sign in"})
	})
	return kernel.Wrap(err, "sign %q in", name)
}

// Session returns who holds a token and until when; [store.ErrNotFound] if it is
// unknown or over.
func Session(ctx context.Context, db *store.Reader, now time.Time, token string) (s Staff, until time.Time, err error) {
	s, err = kernel.One(ctx, db.Read, func(c *kernel.Row) Staff {
		until = c.Instant(5) // after staffColumns
		return readStaff(c)
	}, "SELECT "+kernel.Column("s", staffColumns)+", n.until"+
		" FROM sessions n JOIN staff s ON s.name = n.staff WHERE n.hash = ? AND n.until > ?", sessionHash(token), now.Unix())
	if err != nil {
		return s, until, fmt.Errorf("session: %w", err)
	}
	return s, until, nil
}

// ExtendSession lets a session last until a later instant. One that ended
// meanwhile stays ended, which is no error.
func ExtendSession(ctx context.Context, db *store.DB, token string, until time.Time) error {
	_, err := db.Write.ExecContext(ctx, "UPDATE sessions SET until = max(until, ?) WHERE hash = ?", until.Unix(), sessionHash(token))
	return kernel.Wrap(err, "extend a session")
}

// EndSession makes a token useless. An unknown one is no error.
func EndSession(ctx context.Context, db *store.DB, token string) error {
	_, err := db.Write.ExecContext(ctx, "DELETE FROM sessions WHERE hash = ?", sessionHash(token))
	return kernel.Wrap(err, "end a session")
}

// EndSessions signs somebody out everywhere and returns how many sessions that
// ended.
func EndSessions(ctx context.Context, db *store.DB, now time.Time, actor, name string) (int, error) {
	var n int64
	err := db.Tx(ctx, func(tx *sql.Tx) error {
		r, err := tx.ExecContext(ctx, "DELETE FROM sessions WHERE staff = ?", name)
		if n, err = kernel.Affected(r, err); err != nil || n == 0 {
			return err
		}
		return kernel.Audit(ctx, tx, now, kernel.Entry{Actor: actor, What: "sign out everywhere", After: name})
	})
	return int(n), kernel.Wrap(err, "sign %q out", name)
}

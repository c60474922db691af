package imports

import (
	"cmp"
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"
	"time"

	"bellbuoy/schedule/civil"
	"bellbuoy/store"
	"bellbuoy/store/duplicates"
	"bellbuoy/store/imports/columns"
	"bellbuoy/store/internal/kernel"
	"bellbuoy/store/internal/tables"
)

// ErrIntake: the files have faults and nothing was taken in; the report lists
// them.
var ErrIntake = errors.New("nothing was imported")

// File is one file to take in. What it holds goes by the base name of Name:
// customers.csv, boats.csv, components.csv, history.csv or readings.csv.
type File struct {
	Name string
	R    io.Reader
}

// Known are the words that only the shop's settings and rules can vouch for.
// An empty list means that any word is taken.
type Known struct {
	Services []string // service codes that rules know
	Metered  []string // of these, the ones that are done to an engine only
	Places   []string // names of places
}

// IntakeOptions change how files are taken in.
type IntakeOptions struct {
	Actor     string         // who does it, for the audit log
	DryRun    bool           // find faults and count, then write nothing
	MaxFaults int            // how many faults and notes are listed, the rest are counted; 0 means 200
	Progress  func(rows int) // called now and then with the rows read so far; may be nil
}

// Intake takes in the shop's files in one transaction: all of them or, if any
// line has a fault, nothing at all. Every fault of every file is looked for and
// stands in the report; the error is then [ErrIntake].
//
// The files may name each other's ids and ids already in the store, and come in
// any order. Taking in the same files again changes nothing. A line whose id is
// known updates that row; a row that the files do not name stays as it is. A
// history line names a record by its record_id, or by what it says and how many
// lines alike stand before it; see [intake.work]. A reading is known again by
// component, day and hours.
//
// now is read in its own location: pass it in the shop's zone, so that a day is
// still to come by the shop's clock and not by London's.
//
// Boats: a boat id on several lines is one hull with several owners, in order
// of sold_on; each owner's time ends on the day on which the next one's begins.
// At most one line may lack sold_on: it comes first. A line without a
// customer_id says that the shop took the boat back on that day. The boat's
// name, place, berth, water and warranty are the latest owner's line's.
func Intake(ctx context.Context, db *store.DB, now time.Time, files []File, known Known, opts IntakeOptions) (Report, error) {
	in := newIntake(ctx, now, known, opts)
	queue := in.sort(files)
	err := in.take(db, func() error { return in.files(queue) }, func() error { return nil })
	in.report.sort()
	return in.report.Report, err
}

// errDryRun rolls a trial back.
var errDryRun = fmt.Errorf("only a dry run")

// intake takes typed rows into the store, in one transaction: it looks for what they
// mean there, checks them against it and writes. A front end gives it the rows of
// customers, boats, components, work and readings in that order, so that each row
// finds the ids it names, with where each stands: [intake.files] those of our own
// five files, [taking.pass] those of a shop's own tables.
type intake struct {
	run        context.Context // of the whole run; it is asked once a row
	ctx        context.Context // of its statements: the driver starts a goroutine for each that may be given up, which costs as much as a small one
	tx         *kernel.Prepared
	shop       columns.Shop
	opts       IntakeOptions
	now        time.Time
	report     *reporter
	where      func(file string, line int) string // names a row in a message
	version    int64                              // the facts version of this run
	rows       int
	boatLayout *columns.Layout[columns.Boat]
	// Ids whose own line has a fault: lines that name them are not blamed.
	spoilt map[string]bool
	// What a person took back is not brought back.
	takenBack takenBack
	// Ids that were met lately: of customers and boats that are known, of components
	// with their boat, of components in temp.metered and of boats marked for planning.
	lately struct{ customers, boats, components, metered, dirty recent }
	first  bool // the shop has no record of work, and none was taken back
}

// recent holds ids with what belongs to them, and forgets them all when they become
// too many: files name the same ones again and again, and memory stays flat.
type recent map[string]string

func (r recent) add(id, of string) {
	if len(r) == 1<<14 {
		clear(r)
	}
	r[id] = of
}

func (r recent) has(id string) bool {
	_, ok := r[id]
	return ok
}

func newIntake(ctx context.Context, now time.Time, known Known, opts IntakeOptions) *intake {
	in := &intake{run: ctx, ctx: context.WithoutCancel(ctx), opts: opts, now: now, report: newReport(opts), spoilt: map[string]bool{}}
	in.lately.customers, in.lately.boats, in.lately.components, in.lately.metered, in.lately.dirty = recent{}, recent{}, recent{}, recent{}, recent{}
	in.shop = columns.Shop{Today: civil.FromTime(now), Services: known.Services, Places: known.Places, Fault: in.report.fault, Note: in.report.note}
	in.where = func(_ string, line int) string { return fmt.Sprintf("line %d", line) }
	return in
}

// line begins the next row of a file.
func (in *intake) line(file string, no int) *columns.Line {
	in.rows++
	in.report.file(file).Rows++
	if in.opts.Progress != nil && in.rows%5000 == 0 {
		in.opts.Progress(in.rows)
	}
	return &columns.Line{Shop: &in.shop, File: file, No: no}
}

// sort puts the files in order and reports those it cannot place.
func (in *intake) sort(files []File) map[string]File {
	queue := map[string]File{}
	for _, f := range files {
		base := strings.ToLower(baseName(f.Name))
		_, twice := queue[base]
		switch {
		case !slices.Contains(columns.Names(), base):
			in.report.fault(base, 0, "", "not an import file; "+cmp.Or(columns.DidYouMean(base, columns.Names()), "the five are "+strings.Join(columns.Names(), ", ")+"; a table with columns of your own is read through a mapping, see \"bellbuoy import --help\""))
		case twice:
			in.report.fault(base, 0, "", "given twice; give it once")
		default:
			queue[base] = f
		}
	}
	return queue
}

// baseName is a file's name without its folder, on any system.
func baseName(path string) string { return path[strings.LastIndexAny(path, `/\`)+1:] }

// take lets fill give rows and commits them, unless there are faults or it is a dry
// run; settle comes before the commit, and an error of it undoes everything.
func (in *intake) take(db *store.DB, fill, settle func() error) error {
	err := db.Tx(in.run, func(tx *sql.Tx) error {
		in.tx = kernel.NewPrepared(tx)
		defer in.tx.Close()
		if err := in.fill(fill); err != nil {
			return err
		}
		switch {
		case in.report.Refused():
			return fmt.Errorf("import: %d faults: %w", in.report.FaultCount, ErrIntake)
		case in.opts.DryRun:
			return errDryRun
		}
		return settle()
	})
	if err == errDryRun {
		return nil
	}
	return err
}

func (in *intake) fill(fill func() error) (err error) {
	if in.version, err = kernel.NextVersion(in.ctx, in.tx); err != nil {
		return err
	}
	if in.shop.Merged, err = duplicates.MergedNames(in.ctx, in.tx); err != nil {
		return err
	}
	if in.takenBack, err = readTakenBack(in.ctx, in.tx); err != nil {
		return err
	}
	if err := in.stage(); err != nil {
		return err
	}
	known, err := kernel.Exists(in.ctx, in.tx, "SELECT 1 FROM records LIMIT 1")
	if err != nil {
		return err
	}
	in.first = !known && len(in.takenBack) == 0
	if err := fill(); err != nil {
		return err
	}
	if err := in.unstage(); err != nil {
		return err
	}
	return kernel.Audit(in.ctx, in.tx, in.now, kernel.Entry{Actor: in.opts.Actor, What: "import", After: in.report.Files})
}

// stage makes the scratch tables: what was seen in this run, which records its
// lines name and which lines name none yet, which meters were read and the lines of
// boats.csv. They live outside the shop's file, so that
// memory does not grow with the files.
func (in *intake) stage() error {
	for _, s := range []string{
		"CREATE TEMP TABLE seen (h INTEGER PRIMARY KEY, n INTEGER NOT NULL, line INTEGER NOT NULL)",
		"CREATE TEMP TABLE claimed (id TEXT PRIMARY KEY) WITHOUT ROWID",
		`CREATE TEMP TABLE fresh_work (line INTEGER PRIMARY KEY, boat_id TEXT, day TEXT, id TEXT, component_id TEXT, service TEXT,
			hours INTEGER, amount INTEGER, done_by TEXT, note TEXT, source TEXT, named INTEGER)`,
		"CREATE TEMP TABLE metered (component_id TEXT PRIMARY KEY) WITHOUT ROWID",
		"CREATE TEMP TABLE boat_lines (boat_id TEXT, sold_on TEXT, line INTEGER, row BLOB, PRIMARY KEY (boat_id, sold_on, line)) WITHOUT ROWID",
	} {
		if _, err := in.tx.ExecContext(in.ctx, s); err != nil {
			return fmt.Errorf("make the scratch tables: %w", err)
		}
	}
	return nil
}

func (in *intake) unstage() error {
	if err := in.tx.Close(); err != nil {
		return err
	}
	for _, t := range []string{"seen", "claimed", "fresh_work", "metered", "boat_lines"} {
		if _, err := in.tx.ExecContext(in.ctx, "DROP TABLE temp."+t); err != nil {
			return fmt.Errorf("drop the scratch tables: %w", err)
		}
	}
	return nil
}

// seen counts how often the parts were named before in this run, and says on
// which line they were named first.
func (in *intake) seen(line int, parts ...string) (before, first int, err error) {
	h := tables.Hash63(parts...)
	n, err := kernel.Affected(in.tx.ExecContext(in.ctx, "INSERT INTO temp.seen VALUES (?, 0, ?) ON CONFLICT DO NOTHING", h, line))
	if err != nil || n == 1 {
		return 0, line, err
	}
	got, err := kernel.One(in.ctx, in.tx, func(c *kernel.Row) [2]int64 { return [2]int64{c.Int(0), c.Int(1)} },
		"UPDATE temp.seen SET n = n + 1 WHERE h = ? RETURNING n, line", h)
	return int(got[0]), int(got[1]), err
}

// touched marks a boat for planning.
func (in *intake) touched(boatID string) error {
	if in.lately.dirty.has(boatID) {
		return nil
	}
	in.lately.dirty.add(boatID, "")
	return kernel.MarkDirtyAt(in.ctx, in.tx, boatID, in.version)
}

func (in *intake) hasCustomer(id string) (bool, error) {
	return in.has(in.lately.customers, id, "SELECT 1 FROM customers WHERE id = ?")
}

func (in *intake) hasBoat(id string) (bool, error) {
	return in.has(in.lately.boats, id, "SELECT 1 FROM boats WHERE id = ?")
}

func (in *intake) has(lately recent, id, query string) (bool, error) {
	if lately.has(id) {
		return true, nil
	}
	ok, err := kernel.Exists(in.ctx, in.tx, query, id)
	if ok {
		lately.add(id, "")
	}
	return ok, err
}

// boatOfComponent returns the boat of a component, "" if there is no such
// component. A boat's id stands for its hull.
func (in *intake) boatOfComponent(id string) (string, error) {
	if boat, ok := in.lately.components[id]; ok {
		return boat, nil
	}
	boat, err := tables.HomeOf(in.ctx, in.tx, id)
	known, err := kernel.Found(err)
	if known {
		in.lately.components.add(id, boat)
	}
	return boat, err
}

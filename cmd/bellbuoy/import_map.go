package main

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"bellbuoy/cmd/bellbuoy/internal/app"
	"bellbuoy/schedule/words"
	"bellbuoy/store"
	"bellbuoy/store/imports"
	"bellbuoy/store/imports/mapping"
	"bellbuoy/store/imports/sheet"
)

// intakeFlags are how the shop's own tables are read.
type intakeFlags struct {
	dry        bool
	propose    bool
	mapFile    string
	acceptGood string // the file that gets the returned rows
}

func (f *intakeFlags) check() error {
	switch {
	case f.propose && (f.acceptGood != "" || f.dry):
		return usagef("--propose only drafts a mapping; of the other flags it takes --map, whose answers stay")
	case f.acceptGood != "" && f.mapFile == "":
		return usagef("--accept-good needs --map: the five files are imported whole or not at all")
	}
	return nil
}

// propose prints the draft of a mapping; the answers of an earlier one stay.
func (a *cli) propose(h *app.App, paths []string, prior string) error {
	today, err := a.today(h.Config)
	if err != nil {
		return err
	}
	books, closeAll, err := sheet.OpenFiles(paths, sheet.Options{})
	if err != nil {
		return fmt.Errorf("import: %w", err)
	}
	defer closeAll()
	o := h.ProposeOptions(today)
	if prior != "" {
		if o.Prior, err = readMapping(prior); err != nil {
			return err
		}
	}
	text, err := mapping.Propose(books, o)
	if err != nil {
		return fmt.Errorf("import: %w", err)
	}
	a.printf("%s", text)
	return nil
}

func readMapping(path string) (*mapping.Mapping, error) {
	data, err := os.ReadFile(path)
	if err != nil {
		return nil, fmt.Errorf("import: %w", err)
	}
	m, err := mapping.Parse(data)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", path, err)
	}
	return m, nil
}

// intakeMapped takes in the shop's own tables.
func (a *cli) intakeMapped(ctx context.Context, h *app.App, paths []string, flags intakeFlags) error {
	now, err := a.instant(h.Config)
	if err != nil {
		return err
	}
	m, err := readMapping(flags.mapFile)
	if err != nil {
		return err
	}
	books, closeAll, err := sheet.OpenFiles(paths, m.SheetOptions())
	if err != nil {
		return fmt.Errorf("import: %w", err)
	}
	defer closeAll()
	report, did, err := h.IntakeMapped(ctx, now, books, m, imports.MappedOptions{
		Actor: actor, DryRun: flags.dry, AcceptGood: flags.acceptGood != "", Progress: a.progress("rows"),
		Returned: func(r *imports.ReturnedRows) error { return writeReturned(flags.acceptGood, books, r) },
	})
	if open, ok := errors.AsType[*imports.OpenQuestions](err); ok {
		for _, q := range open.Questions {
			a.printf("%s\n", q)
		}
		return hinted{fmt.Errorf("%s: %w", flags.mapFile, err), "the draft has the evidence beside each question"}
	}
	if err != nil && !errors.Is(err, imports.ErrIntake) {
		return err
	}
	return a.toldMapped(&report, &did, flags, err != nil)
}

// toldMapped prints what came of an intake.
func (a *cli) toldMapped(report *imports.MappedReport, did *app.Change, flags intakeFlags, refused bool) error {
	if a.asJSON {
		if err := a.printJSON(report); err != nil {
			return err
		}
	} else {
		a.printMapped(report, flags, refused)
	}
	if refused {
		return errFindings
	}
	if !flags.dry {
		a.printPlanned(did)
	}
	return nil
}

// printPlanned says how many boats a change planned again.
func (a *cli) printPlanned(did *app.Change) {
	if !a.asJSON {
		a.printf("%s planned.\n", words.Count(did.Boats, "boat"))
	}
}

// printMapped tells what came of the rows: what is wrong, grouped; then the
// tables; then the sum.
func (a *cli) printMapped(r *imports.MappedReport, flags intakeFlags, refused bool) {
	for _, row := range r.Listed {
		a.printf("%s\n", row)
	}
	if more := r.Returned - len(r.Listed); more > 0 {
		a.printf("and %s more\n", words.Count(more, "row"))
	}
	for _, n := range r.Notes {
		a.printf("note: %s\n", n)
	}
	if more := r.NotesAll - len(r.Notes); more > 0 {
		a.printf("and %s more\n", words.Count(more, "note"))
	}
	for _, j := range r.Joined {
		a.printf("one customer: %s (%s), reached by %s; %s\n", j.Name, j.CustomerID, strings.Join(j.Ways, " | "), strings.Join(j.Why, ", "))
	}
	if more := r.JoinedAll - len(r.Joined); more > 0 {
		a.printf("and %s more whom rows reach in several ways\n", words.Count(more, "customer"))
	}
	for _, t := range r.Tables {
		a.printf("%-24s %7d rows: %d can be imported, %d not\n", t.Table, t.Rows, t.Taken, t.Returned)
	}
	for _, f := range r.Files {
		a.printf("  becomes %-15s %7d rows: %d new, %d changed, %d unchanged\n", f.Name, f.Rows, f.New, f.Changed, f.Unchanged)
	}
	for _, y := range r.Money {
		year := fmt.Sprint(y.Year)
		if y.Year == 0 {
			year = "no day"
		}
		a.printf("  paid in %-8s %14s in the tables, %14s imported\n", year, y.Table, y.Taken)
	}
	switch {
	case refused:
		a.printf("%d of %s cannot be imported; nothing was imported. Correct them, or import the others with --accept-good FILE.\n", r.Returned, words.Count(r.Rows, "row"))
	case flags.dry:
		a.printf("A dry run: nothing was changed. %s read, %d would be imported, %d returned.\n", words.Count(r.Rows, "row"), r.Taken, r.Returned)
	case r.Returned > 0:
		a.printf("%s read, %d imported, %d returned in %s with the reason in the last column.\n", words.Count(r.Rows, "row"), r.Taken, r.Returned, flags.acceptGood)
	default:
		a.printf("%s read, all imported.\n", words.Count(r.Rows, "row"))
	}
}

// writeReturned writes the rows that were not taken, complete or not at all.
func writeReturned(path string, books []*sheet.Book, r *imports.ReturnedRows) (err error) {
	workbook := strings.EqualFold(filepath.Ext(path), ".xlsx")
	if !workbook && (r.Tables() > 1 || books[0].Workbook()) {
		return hinted{fmt.Errorf("import: %s: the rows come from a workbook or from several tables", path), "name the file of returned rows with .xlsx at the end"}
	}
	f, err := os.CreateTemp(filepath.Dir(path), ".returned-*")
	if err != nil {
		return fmt.Errorf("import: write the returned rows: %w", err)
	}
	defer func() {
		if err != nil {
			err = fmt.Errorf("import: write the returned rows to %s: %w", path, err)
			f.Close()
			os.Remove(f.Name())
		}
	}()
	w := sheet.NewXLSXWriter(f)
	if !workbook {
		if w, err = sheet.NewCSVWriter(f, cmp.Or(books[0].Dialect().Delimiter, ",")); err != nil {
			return err
		}
	}
	if err := errors.Join(r.Write(w), w.Close()); err != nil {
		return err
	}
	if err := errors.Join(f.Sync(), f.Close(), store.KeepOwner(f.Name(), path)); err != nil {
		return err
	}
	return os.Rename(f.Name(), path)
}

package main

import (
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"

	"github.com/spf13/cobra"

	"bellbuoy/cmd/bellbuoy/internal/app"
	"bellbuoy/schedule/words"
	"bellbuoy/store/archive"
	"bellbuoy/store/imports"
	"bellbuoy/store/imports/columns"
)

const importHelp = `Imports the five CSV files (customers.csv, boats.csv, components.csv,
history.csv, readings.csv), given as a folder or one by one. Either all of it
is imported or, if any line has a fault, nothing is; every fault is listed as
file:line: field: what is wrong and what to do. The same files again change
nothing. A line of history.csv with a record_id, which "bellbuoy export" writes,
changes that record; one without is new work unless it is on file already.
A column that may be empty may also be missing: what is on file then stays, where
an empty cell takes it off.

Work and readings that somebody took back stay away although a file still has
them; each such row is named.

A shop's own tables, text or workbooks, are read through a mapping:

  bellbuoy import --propose list.xlsx > mapping.toml   drafts it from the data
  (answer every "?" in mapping.toml)
  bellbuoy import --propose --map mapping.toml list.xlsx > next.toml
                                     drafts it again and keeps the answers
  bellbuoy import --map mapping.toml --dry-run list.xlsx
  bellbuoy import --map mapping.toml --accept-good returned.xlsx list.xlsx

A phrase may mean several services ("engine-oil, oil-filter"), "other" keeps the
money of work that no plan is made of, and "-" returns the rows. Free texts are
asked for by what they contain. Dates may have an order for each separator
("/ mdy . dmy"); "either" returns those that fit both orders.

The last imports the rows that are right and writes the others, with their id
and the reason in the last two columns, to a file that can be corrected and
imported by the same mapping. Leave the ids as they are: by its id a corrected
row replaces itself and no other.

A folder that "bellbuoy export" wrote makes the same shop again where there is
none yet.`

func importCommand(a *cli) *cobra.Command {
	var flags intakeFlags
	c := &cobra.Command{
		Use:        "import DIR|FILE...",
		SuggestFor: []string{"intake"},
		Short:      "Import customers, boats, components, history and readings from files",
		Example: `  bellbuoy import my-files/
  bellbuoy import --dry-run my-files/`,
		Long: importHelp,
		Args: cobra.MinimumNArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			if err := flags.check(); err != nil {
				return err
			}
			if len(args) == 1 && archive.IsExport(args[0]) {
				return a.intakeExport(c.Context(), args[0], flags.dry)
			}
			h, err := a.openApp(c.Context())
			if err != nil {
				return err
			}
			defer h.Close()
			if !flags.dry && !flags.propose {
				if err := a.worksHere(c.Context(), h); err != nil {
					return err
				}
			}
			switch {
			case flags.propose:
				return a.propose(h, args, flags.mapFile)
			case flags.mapFile != "":
				return a.intakeMapped(c.Context(), h, args, flags)
			}
			return a.intake(c, h, args, flags.dry)
		},
	}
	f := c.Flags()
	f.BoolVar(&flags.dry, "dry-run", false, "report what would happen and change nothing")
	f.BoolVar(&flags.propose, "propose", false, "draft a mapping from the files, and print it")
	f.StringVar(&flags.mapFile, "map", "", "read the files through this mapping `FILE`")
	f.StringVar(&flags.acceptGood, "accept-good", "", "import the good rows and write the others to this `FILE`")
	return c
}

func (a *cli) intake(c *cobra.Command, h *app.App, args []string, dry bool) error {
	now, err := a.instant(h.Config)
	if err != nil {
		return err
	}
	files, closeAll, err := openImport(args)
	if err != nil {
		return err
	}
	defer closeAll()
	report, did, err := h.Intake(c.Context(), now, files, imports.IntakeOptions{Actor: actor, DryRun: dry, Progress: a.progress("rows")})
	if err != nil && !errors.Is(err, imports.ErrIntake) {
		return err
	}
	refused := err != nil
	if a.asJSON {
		if err := a.printJSON(report); err != nil {
			return err
		}
	} else {
		a.printIntake(&report, refused, dry)
	}
	if refused {
		return errFindings
	}
	if !dry {
		a.printPlanned(&did)
	}
	return nil
}

// openImport opens the files named, and of folders those of the five that are
// there.
func openImport(args []string) (files []imports.File, closeAll func(), err error) {
	var opened []io.Closer
	closeOpened := func() {
		for _, f := range opened {
			f.Close()
		}
	}
	defer func() {
		if err != nil {
			closeOpened()
		}
	}()
	open := func(path string) error {
		f, err := os.Open(path)
		if err != nil {
			return fmt.Errorf("import: %w", err)
		}
		opened, files = append(opened, f), append(files, imports.File{Name: path, R: f})
		return nil
	}
	for _, arg := range args {
		info, err := os.Stat(arg)
		if err != nil {
			return nil, nil, fmt.Errorf("import: %w", err)
		}
		if !info.IsDir() {
			if err := open(arg); err != nil {
				return nil, nil, err
			}
			continue
		}
		n := len(files)
		for _, name := range columns.Names() {
			path := filepath.Join(arg, name)
			if _, err := os.Stat(path); errors.Is(err, os.ErrNotExist) {
				continue
			}
			if err := open(path); err != nil {
				return nil, nil, err
			}
		}
		if len(files) == n {
			return nil, nil, hinted{fmt.Errorf("import: folder %q holds none of the five files", arg), "it should hold customers.csv, boats.csv, components.csv, history.csv and readings.csv, or some of them"}
		}
	}
	return files, closeOpened, nil
}

func (a *cli) printIntake(r *imports.Report, refused, dry bool) {
	for _, f := range r.Faults {
		a.printf("%s\n", f.Error())
	}
	if more := r.FaultCount - len(r.Faults); more > 0 {
		a.printf("and %d more faults\n", more)
	}
	for _, n := range r.Notes {
		a.printf("note: %s\n", n.Error())
	}
	if more := r.NoteCount - len(r.Notes); more > 0 {
		a.printf("and %d more notes\n", more)
	}
	for _, f := range r.Files {
		a.printf("%-15s %7d rows: %d new, %d changed, %d unchanged\n", f.Name, f.Rows, f.New, f.Changed, f.Unchanged)
	}
	switch {
	case refused:
		a.printf("%s; nothing was imported.\n", words.Count(r.FaultCount, "fault"))
	case dry:
		a.printf("A dry run: nothing was changed.\n")
	}
}

// progress returns a function that shows a running count on a terminal, nil
// where the error output is not one.
func (a *cli) progress(what string) func(int) {
	f, ok := a.err.(*os.File)
	if !ok {
		return nil
	}
	if info, err := f.Stat(); err != nil || info.Mode()&os.ModeCharDevice == 0 {
		return nil
	}
	return func(n int) { fmt.Fprintf(f, "\r%d %s", n, what) }
}

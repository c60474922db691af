package imports

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"bellbuoy/store/imports/columns"
	"bellbuoy/store/internal/tables"
)

// Report says what an intake found and did, or would have done.
type Report struct {
	Files []FileReport `json:"files"`
	// Faults are what keeps the files from being taken in, Notes what was
	// taken in but should be looked at. Both are cut off at
	// [IntakeOptions.MaxFaults]; the counts are whole.
	Faults     []Fault `json:"faults,omitempty"`
	FaultCount int     `json:"fault_count"`
	Notes      []Fault `json:"notes,omitempty"`
	NoteCount  int     `json:"note_count"`
}

// FileReport counts the lines of one file, without its header.
type FileReport struct {
	Name      string `json:"name"`
	Rows      int    `json:"rows"`
	New       int    `json:"new"`
	Changed   int    `json:"changed"`
	Unchanged int    `json:"unchanged"`
}

// Fault is one thing wrong or doubtful at one place.
type Fault struct {
	File  string `json:"file"`
	Line  int    `json:"line"`  // 0 for the file as a whole
	Field string `json:"field"` // "" for the line as a whole
	What  string `json:"what"`  // what is wrong and what to do
}

// Error writes "boats.csv:41: hin: what is wrong, what to do".
func (f Fault) Error() string {
	var b strings.Builder
	b.WriteString(f.File)
	if f.Line > 0 {
		fmt.Fprintf(&b, ":%d", f.Line)
	}
	if f.Field != "" {
		b.WriteString(": " + f.Field)
	}
	return b.String() + ": " + f.What
}

// Refused reports whether the files had faults.
func (r *Report) Refused() bool { return r.FaultCount > 0 }

// reporter collects a report while the files are read.
type reporter struct {
	Report
	max int
	// Get every fault and every note, those beyond max too; may be nil.
	onFault, onNote func(file string, line int, field, what string)
}

// usualFaults is how many faults are listed when nothing else is asked for.
const usualFaults = 200

func newReport(opts IntakeOptions) *reporter {
	r := &reporter{max: opts.MaxFaults}
	if r.max <= 0 {
		r.max = usualFaults
	}
	return r
}

func (r *reporter) begin(name string) { r.Files = append(r.Files, FileReport{Name: name}) }

// file is the count of a file that was begun.
func (r *reporter) file(name string) *FileReport {
	return &r.Files[slices.IndexFunc(r.Files, func(f FileReport) bool { return f.Name == name })]
}

func (r *reporter) fault(file string, line int, field, what string) {
	r.FaultCount++
	if r.onFault != nil {
		r.onFault(file, line, field, what)
	}
	if len(r.Faults) < r.max {
		r.Faults = append(r.Faults, Fault{file, line, field, what})
	}
}

func (r *reporter) note(file string, line int, field, what string) {
	r.NoteCount++
	if r.onNote != nil {
		r.onNote(file, line, field, what)
	}
	if len(r.Notes) < r.max {
		r.Notes = append(r.Notes, Fault{file, line, field, what})
	}
}

// sort puts what was found in the order of the files and their lines.
func (r *reporter) sort() {
	byPlace := func(a, b Fault) int {
		return cmp.Or(cmp.Compare(slices.Index(columns.Names(), a.File), slices.Index(columns.Names(), b.File)), cmp.Compare(a.Line, b.Line))
	}
	slices.SortStableFunc(r.Faults, byPlace)
	slices.SortStableFunc(r.Notes, byPlace)
}

func (r *reporter) count(file string, c tables.Change) {
	f := r.file(file)
	switch c {
	case tables.Added:
		f.New++
	case tables.Changed:
		f.Changed++
	default:
		f.Unchanged++
	}
}

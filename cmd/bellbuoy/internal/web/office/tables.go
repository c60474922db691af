package office

import (
	"context"
	"crypto/sha256"
	"errors"
	"fmt"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"bellbuoy/cmd/bellbuoy/internal/web/site"
	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/words"
	"bellbuoy/store"
	"bellbuoy/store/imports"
	"bellbuoy/store/imports/mapping"
	"bellbuoy/store/imports/sheet"
)

// settingMapping names the setting that holds the answers about the shop's own
// tables: they stay for the next import and for rows that come back.
const settingMapping = "import-mapping"

// sampleRows is how many rows of a table are shown as they are.
const sampleRows = 6

// tablesPage is an import of the shop's own tables while it is prepared.
type tablesPage struct {
	Held     string
	General  []answer // about all tables
	Tables   []tableAsked
	Services []mapping.Service
	Open     []answer              // what is still to be answered
	Outcome  *imports.MappedReport // what would be made; nil until it is asked for
	Made     []string              // the same in words
	Fault    string
}

// tableAsked is one table as it is, and what is asked about it.
type tableAsked struct {
	Name   string
	Sample [][]string
	Use    answer
	Parts  []answerPart
}

// answerPart are the questions of one kind.
type answerPart struct {
	Title   string
	Answers []answer
}

// answer is a question with the field in which it is answered.
type answer struct {
	mapping.Question
	Label   string
	Field   string
	Open    bool
	Options []option // none for a text
	Several bool     // several services, with commas between
}

type option struct {
	Value, Text string
	Chosen      bool
}

// tables shows the tables that are held, what is asked about them and, asked for,
// what would be made of them.
func (s pages) tables(r *http.Request) (site.Response, error) {
	held := r.FormValue("held")
	t, err := s.open(r.Context(), held)
	if err != nil {
		return s.notTables(err)
	}
	defer t.close()
	p := &tablesPage{Held: held, Services: s.App.ProposeOptions(civil.FromTime(s.Now())).Services}
	if err := p.arrange(t.asked, t.books); err != nil {
		return site.Response{}, err
	}
	if r.FormValue("show") != "" && len(p.Open) == 0 {
		report, err := s.runTables(r, held, t.mapping, true, nil)
		if err != nil {
			p.Fault = words.UpperFirst(err.Error()) + "."
		} else {
			p.Outcome, p.Made = report, made(report)
		}
	}
	return site.Response{Page: "tables.html", Data: p}, nil
}

// heldTables are tables that are held, opened, with the mapping as the answers so far
// have it and what it asks.
type heldTables struct {
	books   []*sheet.Book
	mapping *mapping.Mapping
	asked   []mapping.Question
	close   func()
}

func (s pages) open(ctx context.Context, held string) (*heldTables, error) {
	books, closeAll, err := s.Held.Books(held, sheet.Options{})
	if err != nil {
		return nil, err
	}
	m, asked, err := s.draft(ctx, books)
	if err != nil {
		closeAll()
		return nil, err
	}
	return &heldTables{books, m, asked, closeAll}, nil
}

// notTables shows the form for files with why these cannot be read.
func (s pages) notTables(err error) (site.Response, error) {
	if problem := (site.Problem{}); errors.As(err, &problem) {
		return site.Response{}, err
	}
	return site.Response{Page: "import.html", Code: http.StatusUnprocessableEntity, Data: &intakePage{Fault: words.UpperFirst(err.Error()) + "."}}, nil
}

// draft is the mapping as the answers so far have it, and what it asks.
func (s pages) draft(ctx context.Context, books []*sheet.Book) (*mapping.Mapping, []mapping.Question, error) {
	o := s.App.ProposeOptions(civil.FromTime(s.Now()))
	kept, err := s.App.DB.Setting(ctx, settingMapping)
	if err != nil && !errors.Is(err, store.ErrNotFound) {
		return nil, nil, err
	}
	if len(kept) > 0 {
		if o.Prior, err = mapping.Parse(kept); err != nil {
			return nil, nil, fmt.Errorf("the answers of the last import: %w", err)
		}
	}
	text, asked, err := mapping.Draft(books, o)
	if err != nil {
		return nil, nil, err
	}
	m, err := mapping.Parse([]byte(text))
	return m, asked, err
}

// arrange puts the questions in the order of the tables.
func (p *tablesPage) arrange(asked []mapping.Question, books []*sheet.Book) error {
	for _, q := range asked {
		a := answerOf(q)
		if a.Open {
			p.Open = append(p.Open, a)
		}
		n := len(p.Tables) - 1
		switch {
		case q.Part == mapping.PartRegion:
			p.General = append(p.General, a)
			continue
		case q.Part == mapping.PartTable:
			sample, err := sampleOf(books, q.Table)
			if err != nil {
				return err
			}
			p.Tables = append(p.Tables, tableAsked{Name: q.Table, Sample: sample, Use: a})
			continue
		}
		t := &p.Tables[n]
		if k := len(t.Parts) - 1; k < 0 || t.Parts[k].Title != partTitle(q.Part) {
			t.Parts = append(t.Parts, answerPart{Title: partTitle(q.Part)})
		}
		part := &t.Parts[len(t.Parts)-1]
		part.Answers = append(part.Answers, a)
	}
	return nil
}

// partTitle says what the questions of a part are about.
func partTitle(part string) string {
	switch part {
	case mapping.PartColumns:
		return "What each column holds"
	case mapping.PartDates:
		return "How dates are written"
	case mapping.PartNumbers:
		return "How one thousand two hundred thirty-four and a half is written"
	case mapping.PartContains:
		return "Which jobs a text means that contains this"
	case mapping.PartDefaults:
		return "What holds where the table says nothing"
	}
	if field := strings.TrimPrefix(part, mapping.PartWords); field == "work.service" {
		return "Which jobs these words mean"
	} else if field != part {
		return "What these words mean (" + fieldName(field) + ")"
	}
	return part
}

// fieldName is a field as people read it: "Customer: postal code".
func fieldName(field string) string {
	thing, what, _ := strings.Cut(field, ".")
	switch thing {
	case "done":
		return "Done on these days: " + what
	case "engine2":
		thing = "second engine"
	}
	return words.UpperFirst(thing) + ": " + strings.ReplaceAll(what, "_", " ")
}

// answerOf makes the field of a question.
func answerOf(q mapping.Question) answer {
	sum := sha256.Sum256([]byte(q.Table + "\x00" + q.Part + "\x00" + q.Key))
	a := answer{Question: q, Label: q.Key, Field: fmt.Sprintf("q%x", sum[:8]), Open: q.Value == mapping.Open}
	switch {
	case q.Part == mapping.PartDefaults:
		a.Label = fieldName(q.Key)
	case q.Part == mapping.PartRegion:
		a.Label = "country of phone numbers"
	case q.Key == mapping.Rest && q.Part == mapping.PartContains:
		a.Label = "all other texts"
	}
	add := func(value, text string) { a.Options = append(a.Options, option{value, text, value == q.Value}) }
	several := q.Part == mapping.PartContains || q.Part == mapping.PartWords+"work.service"
	switch {
	case several || q.Part != mapping.PartColumns && len(q.Choices) == 0:
		a.Several = several
		if a.Open {
			a.Value = ""
		}
		return a
	case a.Open:
		add(mapping.Open, "Not answered yet")
	}
	named := orderName
	if q.Part == mapping.PartColumns {
		add("", "Leave this column out")
		named = fieldName
	}
	for _, c := range q.Choices {
		add(c, named(c))
	}
	if strings.HasPrefix(q.Part, mapping.PartWords) {
		add(mapping.LeaveOut, "Give these rows back to us")
	}
	if q.Part == mapping.PartDefaults {
		add("", "Nothing")
	}
	if !slices.ContainsFunc(a.Options, func(c option) bool { return c.Chosen }) {
		a.Options = append(a.Options, option{q.Value, q.Value, true})
	}
	return a
}

// orderName says what an order of dates is, and leaves any other choice as it is.
func orderName(c string) string {
	return strings.NewReplacer("mdy", "month, day, year", "dmy", "day, month, year", "ymd", "year, month, day",
		"either", "either order; give rows back that fit both", " excel", "; bare numbers are a spreadsheet's days").Replace(c)
}

// sampleOf are the first rows of a table, as they are.
func sampleOf(books []*sheet.Book, table string) (rows [][]string, err error) {
	enough := errors.New("enough")
	for _, b := range books {
		if !slices.Contains(b.Sheets(), table) {
			continue
		}
		err = b.Rows(table, func(row sheet.Row) error {
			cells := make([]string, len(row.Cells))
			for i, c := range row.Cells {
				cells[i] = c.Text
			}
			if rows = append(rows, cells); len(rows) == sampleRows {
				return enough
			}
			return nil
		})
		break
	}
	if errors.Is(err, enough) {
		err = nil
	}
	return rows, err
}

// made says in words what an import makes.
func made(r *imports.MappedReport) (all []string) {
	for _, f := range r.Files {
		what := map[string]string{"customers.csv": "customers", "boats.csv": "boats and owners", "components.csv": "engines and other parts", "history.csv": "pieces of work", "readings.csv": "meter readings"}[f.Name]
		all = append(all, fmt.Sprintf("%s: %d new, %d changed, %d unchanged", words.UpperFirst(what), f.New, f.Changed, f.Unchanged))
	}
	return all
}

// runTables imports the tables that are held, or shows with dry what that would do.
func (s pages) runTables(r *http.Request, held string, m *mapping.Mapping, dry bool, returned func(*imports.ReturnedRows) error) (*imports.MappedReport, error) {
	books, closeAll, err := s.Held.Books(held, m.SheetOptions())
	if err != nil {
		return nil, err
	}
	defer closeAll()
	report, _, err := s.App.IntakeMapped(r.Context(), s.Now(), books, m, imports.MappedOptions{Actor: site.Actor(r), DryRun: dry, AcceptGood: true, MaxFaults: intakeFaults, Returned: returned})
	return &report, err
}

// answerTables keeps what was answered, and goes on: back to the questions, to what
// would be made, or to the import itself.
func (s pages) answerTables(r *http.Request) (site.Response, error) {
	held, do := r.PostFormValue("held"), r.PostFormValue("do")
	if do == "import" {
		return s.takeTables(r, held)
	}
	t, err := s.open(r.Context(), held)
	if err != nil {
		return s.notTables(err)
	}
	defer t.close()
	for _, q := range t.asked {
		a := answerOf(q)
		value, sent := r.PostForm[a.Field]
		if !sent {
			continue
		}
		v := strings.TrimSpace(value[0])
		if v == "" && len(a.Options) == 0 {
			v = mapping.Open
		}
		t.mapping.Answer(q, v)
	}
	text, err := t.mapping.Text()
	if err != nil {
		return site.Response{}, err
	}
	to := "/import/tables?held=" + url.QueryEscape(held)
	if _, err := mapping.Parse([]byte(text)); err != nil {
		return site.Response{}, site.NewProblem(http.StatusUnprocessableEntity, "An answer cannot be used: "+err.Error()+". Go back and change it.")
	}
	if err := s.App.KeepSetting(r.Context(), settingMapping, []byte(text)); err != nil {
		return site.Response{}, err
	}
	if do == "preview" {
		return site.Response{To: to + "&show=made#made"}, nil
	}
	return site.Response{To: to, Note: "The answers are saved."}, nil
}

// takeTables imports the tables that are held; rows that need a person are kept as
// a workbook.
func (s pages) takeTables(r *http.Request, held string) (site.Response, error) {
	if s.Held.Imported(held) { // pressed twice
		return site.Response{To: "/import", Note: "These files were imported before."}, nil
	}
	t, err := s.open(r.Context(), held)
	if err != nil {
		return s.notTables(err)
	}
	t.close()
	path := ""
	report, err := s.runTables(r, held, t.mapping, false, func(rows *imports.ReturnedRows) (err error) {
		path, err = writeReturned(rows)
		return err
	})
	if err != nil {
		return s.notTables(err)
	}
	if err := errors.Join(s.Held.KeepReturned(path, report.Returned), s.Held.Done(held)); err != nil {
		s.Log.WarnContext(r.Context(), "keep the returned rows of an import", "error", err)
	}
	return site.Response{To: "/import", Note: fmt.Sprintf("%s read: %d imported, %d returned.", words.Count(report.Rows, "row"), report.Taken, report.Returned)}, nil
}

// writeReturned writes returned rows to a workbook of its own.
func writeReturned(rows *imports.ReturnedRows) (path string, err error) {
	f, err := os.CreateTemp("", "bellbuoy-returned-*.xlsx")
	if err != nil {
		return "", err
	}
	w := sheet.NewXLSXWriter(f)
	return f.Name(), errors.Join(rows.Write(w), w.Close(), f.Close())
}

// returnedRows sends the workbook of the rows that the last import returned.
func (s pages) returnedRows(w http.ResponseWriter, r *http.Request) {
	path, _ := s.Held.Returned()
	if path == "" {
		http.NotFound(w, r)
		return
	}
	w.Header().Set("Content-Type", "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet")
	w.Header().Set("Content-Disposition", `attachment; filename="returned.xlsx"`)
	w.Header().Set("Cache-Control", "no-store")
	http.ServeFile(w, r, filepath.Clean(path))
}

// Package sheet reads tables out of the files that shops have: text with
// commas, semicolons, tabs or bars in several encodings, and workbooks. It
// decides where rows and cells begin and end and what kind of value a workbook
// says a cell holds; it never decides what a cell means, never changes a file
// it reads, and never loses a row in silence: what it cannot read is an error
// with its line. The intake of files in package store calls it.
package sheet

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"strings"

	"bellbuoy/store/internal/csvrows"
)

// QuoteError is a text file that cannot be read to its end.
type QuoteError = csvrows.QuoteError

// Kind says what a file states about a cell.
type Kind byte

// The kinds of cells. Text files have Text only.
const (
	Text   Kind = iota // as written
	Number             // a workbook's number, written with a decimal point and no separators
	Day                // a workbook's date, written YYYY-MM-DD
)

// Cell is one cell of a row.
type Cell struct {
	Text string
	Kind Kind
}

// Row is one row that has at least one cell that is not blank.
type Row struct {
	Line  int // of the file, or of the sheet as the workbook numbers it, from 1
	Cells []Cell
}

// Options state what a text file does not say itself. Empty ones are found out
// as by [Look].
type Options struct {
	Encoding  string // one of [Encodings]
	Delimiter string // one of [Delimiters]
}

// Book is a file with its tables. A text file has one, named like the file.
type Book struct {
	name   string
	src    io.ReaderAt
	size   int64
	opts   Options
	sheets []string
	xlsx   *workbook // nil for a text file
}

// magic first bytes of files that are not text.
var (
	zipMagic = []byte("PK\x03\x04")
	oleMagic = []byte{0xD0, 0xCF, 0x11, 0xE0, 0xA1, 0xB1, 0x1A, 0xE1}
)

// Open looks at a file. name is shown in errors and names the one table of a
// text file; src must stay readable until Close. It fails on files that are
// neither text nor a workbook of the newer kind.
func Open(name string, src io.ReaderAt, size int64, opts Options) (*Book, error) {
	b := &Book{name: name, src: src, size: size, opts: opts, sheets: []string{base(name)}}
	head := make([]byte, len(oleMagic))
	n, err := src.ReadAt(head, 0)
	if err != nil && !errors.Is(err, io.EOF) {
		return nil, fmt.Errorf("read %s: %w", name, err)
	}
	switch head = head[:n]; {
	case bytes.HasPrefix(head, oleMagic):
		return nil, fmt.Errorf("%s is an old workbook or one with a password; save it as .xlsx without a password", name)
	case bytes.HasPrefix(head, zipMagic):
		if b.xlsx, err = openWorkbook(src, size); err != nil {
			return nil, fmt.Errorf("read the workbook %s: %w", name, err)
		}
		b.sheets = b.xlsx.names()
		return b, nil
	}
	if err := notATable(head); err != nil {
		return nil, fmt.Errorf("read %s: %w", name, err)
	}
	if b.opts, err = b.look(); err != nil {
		return nil, fmt.Errorf("read %s: %w", name, err)
	}
	return b, nil
}

// notATable refuses files that people take for tables.
func notATable(head []byte) error {
	start := bytes.ToLower(bytes.TrimLeft(bytes.TrimPrefix(head, []byte("\ufeff")), " \t\r\n"))
	switch {
	case bytes.HasPrefix(head, []byte{0x1f, 0x8b}):
		return errors.New("it is compressed with gzip; unpack it first")
	case bytes.HasPrefix(head, []byte("%PDF")):
		return errors.New("it is a PDF, a picture of a table; export the table itself as CSV or .xlsx")
	case bytes.HasPrefix(start, []byte("<")):
		return errors.New("it is a web page, whatever its name says; open it in the spreadsheet and save it as CSV or .xlsx")
	}
	return nil
}

// Hidden are the tables of a workbook that its program does not show; they are not
// among [Book.Sheets] and are read by name.
func (b *Book) Hidden() []string {
	if b.xlsx == nil {
		return nil
	}
	return b.xlsx.hidden
}

// Name is the name that the book was opened with.
func (b *Book) Name() string { return b.name }

// Workbook reports whether the file is a workbook and not text.
func (b *Book) Workbook() bool { return b.xlsx != nil }

// Sheets are the names of the tables in the file's order.
func (b *Book) Sheets() []string { return b.sheets }

// Dialect says how a text file is read: what was asked for, completed by what
// was found. It is empty for a workbook.
func (b *Book) Dialect() Options { return b.opts }

// Close lets go of what a workbook holds. It does not close the source.
func (b *Book) Close() error {
	if b.xlsx == nil {
		return nil
	}
	return b.xlsx.close()
}

// Rows calls fn with each row that is not blank, from the top, and may be
// called again. The row's cells are valid until fn returns. An error of fn ends
// the reading and is returned as it is; a [*QuoteError] tells of a text file
// that cannot be read to its end.
func (b *Book) Rows(sheet string, fn func(Row) error) error {
	if b.xlsx != nil {
		return b.xlsx.rows(sheet, fn)
	}
	r, err := b.text()
	if err != nil {
		return fmt.Errorf("read %s: %w", b.name, err)
	}
	var cells []Cell
	for {
		texts, line, err := r.Next()
		if err == io.EOF {
			return nil
		}
		if err != nil {
			return err
		}
		cells = cells[:0]
		for _, s := range texts {
			cells = append(cells, Cell{Text: s})
		}
		if blank(cells) {
			continue
		}
		if err := fn(Row{Line: line, Cells: cells}); err != nil {
			return err
		}
	}
}

// blank reports whether no cell says anything.
func blank(cells []Cell) bool {
	for _, c := range cells {
		if strings.TrimSpace(c.Text) != "" {
			return false
		}
	}
	return true
}

func base(name string) string { return name[strings.LastIndexAny(name, `/\`)+1:] }

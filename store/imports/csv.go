package imports

import (
	"bufio"
	"bytes"
	"errors"
	"fmt"
	"io"
	"strings"

	"golang.org/x/text/encoding/unicode"
	"golang.org/x/text/transform"

	"bellbuoy/store/imports/columns"
	"bellbuoy/store/internal/csvrows"
)

// readFile reads one of the five files and hands each row that has as many cells as
// the header to take, with the line on which it stands. Faults go to the report; an
// error means that reading or writing failed.
func readFile[R any](in *intake, r io.Reader, f *columns.File[R], take func(*columns.Line, *columns.Layout[R], R) error) error {
	rows := openCSV(r)
	lay, ok := readHeader(in, rows, f)
	if !ok {
		return nil
	}
	for {
		if err := in.run.Err(); err != nil {
			return err
		}
		cells, no, err := nextRow(rows)
		if err == io.EOF {
			return nil
		}
		if _, bad := errors.AsType[*csvrows.QuoteError](err); bad {
			in.report.fault(f.Name, no, "", "a quote that is not closed, or one inside a field; put quotes round the whole field and double those inside (the rest of the file was not read)")
			return nil
		}
		if err != nil {
			return err
		}
		l := in.line(f.Name, no)
		if len(cells) != lay.Width {
			l.Fault("", "%d fields, want %d as in the header", len(cells), lay.Width)
			continue
		}
		if in.skipMerged(l, f.ID, lay.ID(cells)) {
			continue
		}
		var row R
		lay.Read(l, cells, &row)
		if err := take(l, lay, row); err != nil {
			return err
		}
	}
}

// readHeader reads the first line; ok is false if it has faults.
func readHeader[R any](in *intake, rows *csvrows.Reader, f *columns.File[R]) (lay *columns.Layout[R], ok bool) {
	header, _, err := nextRow(rows)
	if err != nil {
		in.report.fault(f.Name, 1, "", "no header; the first line names the columns: "+strings.Join(f.Header(), ","))
		return nil, false
	}
	return f.Bind(&columns.Line{Shop: &in.shop, File: f.Name, No: 1}, header)
}

// nextRow passes over empty lines.
func nextRow(rows *csvrows.Reader) (cells []string, line int, err error) {
	for {
		cells, line, err = rows.Next()
		if err != nil || len(cells) > 1 || cells[0] != "" {
			return cells, line, err
		}
	}
}

// The byte order marks that a file may begin with.
var (
	utf8Mark  = []byte{0xEF, 0xBB, 0xBF}
	utf16Mark = [][]byte{{0xFF, 0xFE}, {0xFE, 0xFF}}
)

// openCSV looks at the first bytes: a mark states UTF-8 or UTF-16, and a header
// without a comma states by what its names are divided instead.
func openCSV(r io.Reader) *csvrows.Reader {
	b := bufio.NewReaderSize(r, 64<<10)
	head, _ := b.Peek(3)
	if bytes.Equal(head, utf8Mark) {
		b.Discard(len(utf8Mark)) // cannot fail: they were peeked
	}
	for _, mark := range utf16Mark {
		if bytes.HasPrefix(head, mark) {
			utf16 := unicode.UTF16(unicode.LittleEndian, unicode.ExpectBOM)
			b = bufio.NewReaderSize(transform.NewReader(b, utf16.NewDecoder()), 64<<10)
		}
	}
	head, _ = b.Peek(4 << 10)
	return csvrows.New(b, csvrows.Options{Delimiter: headerDelimiter(head), Strict: true})
}

// headerDelimiter is a comma, unless the first line has none but semicolons or
// tabs.
func headerDelimiter(head []byte) byte {
	if i := bytes.IndexByte(head, '\n'); i >= 0 {
		head = head[:i]
	}
	for _, d := range []byte(";\t") {
		if bytes.IndexByte(head, d) >= 0 && bytes.IndexByte(head, ',') < 0 {
			return d
		}
	}
	return ','
}

// files hands the rows of the five files to the intake.
func (in *intake) files(queue map[string]File) error {
	for _, kind := range columns.Names() {
		f, given := queue[kind]
		if !given {
			continue
		}
		in.report.begin(kind)
		if err := in.file(kind, f.R); err != nil {
			return fmt.Errorf("intake %s: %w", kind, err)
		}
	}
	return nil
}

func (in *intake) file(kind string, r io.Reader) error {
	switch kind {
	case columns.Customers.Name:
		return readFile(in, r, &columns.Customers, in.customer)
	case columns.Boats.Name:
		if err := readFile(in, r, &columns.Boats, in.boat); err != nil {
			return err
		}
		return in.hulls()
	case columns.Components.Name:
		return readFile(in, r, &columns.Components, in.component)
	case columns.History.Name:
		if err := readFile(in, r, &columns.History, in.historyLine); err != nil {
			return err
		}
		return in.freshWork()
	}
	if err := readFile(in, r, &columns.Readings, in.reading); err != nil {
		return err
	}
	return in.metersRise()
}

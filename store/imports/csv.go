package imports

import (
	"bufio"
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"

	"golang.org/x/text/encoding/unicode"
	"golang.org/x/text/transform"
)

// layout is what a file's header may and must say.
type layout struct {
	columns  []string // required, in any order
	optional []string
	// extra takes any further column whose name is made of small letters,
	// digits and underscores, except the ones listed.
	extra    bool
	notExtra []string
}

// table reads one CSV file line by line.
type table struct {
	in     *intake
	name   string
	r      *csv.Reader
	header []string
	at     map[string]int
}

// The byte order marks that a file may begin with.
var (
	utf8Mark  = []byte{0xEF, 0xBB, 0xBF}
	utf16Mark = [][]byte{{0xFF, 0xFE}, {0xFE, 0xFF}}
)

// each reads the whole file and calls fn for each line that has as many fields
// as the header. Faults go to the report; an error means that reading or
// writing failed.
func (in *intake) each(name string, r io.Reader, l layout, fn func(*line) error) error {
	t := &table{in: in, name: name}
	t.open(r)
	if !t.readHeader(l) {
		return nil
	}
	for {
		if err := in.ctx.Err(); err != nil {
			return err
		}
		cells, err := t.r.Read()
		if err == io.EOF {
			return nil
		}
		if bad, ok := errors.AsType[*csv.ParseError](err); ok {
			in.report.fault(name, bad.StartLine, "", "a quote that is not closed, or one inside a field; put quotes round the whole field and double those inside (the rest of the file was not read)")
			return nil
		}
		if err != nil {
			return err
		}
		if err := t.line(cells, fn); err != nil {
			return err
		}
	}
}

func (t *table) line(cells []string, fn func(*line) error) error {
	no, _ := t.r.FieldPos(0)
	t.in.rows++
	t.in.report.file().Rows++
	if t.in.opts.Progress != nil && t.in.rows%5000 == 0 {
		t.in.opts.Progress(t.in.rows)
	}
	if len(cells) != len(t.header) {
		t.in.report.fault(t.name, no, "", fmt.Sprintf("%d fields, want %d as in the header", len(cells), len(t.header)))
		return nil
	}
	return fn(&line{table: t, no: no, Row: cells})
}

// open looks at the first bytes: a mark states UTF-8 or UTF-16, and a header
// without a comma states by what its names are divided instead.
func (t *table) open(r io.Reader) {
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
	t.r = csv.NewReader(b)
	t.r.Comma = headerDelimiter(head)
	t.r.FieldsPerRecord = -1
	t.r.ReuseRecord = true
}

// headerDelimiter is a comma, unless the first line has none but semicolons or
// tabs.
func headerDelimiter(head []byte) rune {
	if i := bytes.IndexByte(head, '\n'); i >= 0 {
		head = head[:i]
	}
	for _, d := range ";\t" {
		if bytes.ContainsRune(head, d) && !bytes.ContainsRune(head, ',') {
			return d
		}
	}
	return ','
}

func (t *table) readHeader(l layout) bool {
	cells, err := t.r.Read()
	if err != nil {
		t.in.report.fault(t.name, 1, "", "no header; the first line names the columns: "+strings.Join(l.columns, ","))
		return false
	}
	before := t.in.report.FaultCount
	t.at = map[string]int{}
	for i, c := range cells {
		name := strings.ToLower(strings.TrimSpace(c))
		t.header = append(t.header, name)
		t.column(name, l)
		t.at[name] = i
	}
	for _, want := range l.columns {
		if _, ok := t.at[want]; !ok {
			t.in.report.fault(t.name, 1, want, "the column is missing; add it, its cells may be empty where nothing is known")
		}
	}
	return t.in.report.FaultCount == before
}

// column checks one name of the header.
func (t *table) column(name string, l layout) {
	_, twice := t.at[name]
	switch {
	case twice:
		t.in.report.fault(t.name, 1, name, "the column is there twice; keep one")
	case slices.Contains(l.columns, name) || slices.Contains(l.optional, name):
	case l.extra && isName(name) && !slices.Contains(l.notExtra, name):
	default:
		all := append(append([]string{}, l.columns...), l.optional...)
		t.in.report.fault(t.name, 1, name, "unknown column; "+didYouMean(name, all, "rename it or take it out"))
	}
}

// isName reports whether s can be the name of an attribute.
func isName(s string) bool {
	for i := range len(s) {
		c := s[i]
		if !(c >= 'a' && c <= 'z' || c == '_' || i > 0 && c >= '0' && c <= '9') {
			return false
		}
	}
	return s != ""
}

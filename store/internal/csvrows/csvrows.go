// Package csvrows splits text into rows of cells: the store's one reader of CSV. A
// reader goes in, cells with the line on which their row begins come out. It knows
// neither encodings nor what cells mean, and imports nothing of ours.
package csvrows

import (
	"bufio"
	"fmt"
	"io"
)

// QuoteError is a quote that no other quote closes, or one in the middle of a later
// row: where the row ends cannot be known.
type QuoteError struct{ Line int }

// Error says on which line the quote was opened and what to do.
func (e *QuoteError) Error() string {
	return fmt.Sprintf("line %d: a quote is opened and never closed; put quotes round the whole cell and double those inside", e.Line)
}

// Options say how a text is written.
type Options struct {
	Delimiter byte
	// Strict refuses a quote inside a cell, where it would else stand for itself,
	// and text behind a closing quote, which would else belong to the cell.
	Strict bool
	// Exact keeps every byte of a cell: only LF ends a row, and line ends inside
	// quotes stay as they are.
	Exact bool
}

// Reader splits text into rows by RFC 4180, and reads on where people and
// programs stray from it: any of CR, LF and CRLF ends a line, a quote within an
// unquoted cell stands for itself, blanks may stand before an opening quote,
// and what follows a closing quote belongs to the cell. Line ends inside quotes
// become LF. [Options] make it stricter.
type Reader struct {
	r     *bufio.Reader
	o     Options
	line  int // the line at which the next row begins
	row   []byte
	ends  []int // of the cells in row
	cells []string
}

// New reads from r, which it may read ahead.
func New(r io.Reader, o Options) *Reader {
	return &Reader{r: bufio.NewReaderSize(r, 64<<10), o: o, line: 1}
}

// Next returns the next row and the line on which it begins, [io.EOF] after the last
// one and a [*QuoteError] where none can be made out. An empty line is a row of one
// empty cell. The slice is valid until the next call.
func (c *Reader) Next() (cells []string, line int, err error) {
	line = c.line
	c.row, c.ends, c.cells = c.row[:0], c.ends[:0], c.cells[:0]
	if _, err := c.r.Peek(1); err != nil {
		return nil, line, err
	}
	for more := true; more; {
		if more, err = c.cell(); err != nil {
			return nil, line, err
		}
		c.ends = append(c.ends, len(c.row))
	}
	text, from := string(c.row), 0
	for _, end := range c.ends {
		c.cells = append(c.cells, text[from:end])
		from = end
	}
	return c.cells, line, nil
}

// cell reads one cell up to what ends it; more is false at the end of the row.
func (c *Reader) cell() (more bool, err error) {
	start := len(c.row)
	for onlyBlanks := true; ; {
		b, err := c.r.ReadByte()
		switch {
		case err == io.EOF:
			return false, nil
		case err != nil:
			return false, err
		case b == c.o.Delimiter:
			return true, nil
		case b == '\n' || b == '\r' && !c.o.Exact:
			return false, c.lineEnd(b)
		case b == '"' && onlyBlanks && (!c.o.Strict || len(c.row) == start):
			c.row = c.row[:start]
			opened := c.line
			if err := c.quoted(); err != nil {
				return false, err
			}
			if (c.o.Strict || c.line > opened) && !c.cellOver() {
				return false, &QuoteError{Line: opened}
			}
			onlyBlanks = false
			continue
		case b == '"' && c.o.Strict:
			return false, &QuoteError{Line: c.line}
		}
		onlyBlanks = onlyBlanks && b == ' '
		c.row = append(c.row, b)
	}
}

// cellOver reports whether a cell ends here, maybe after blanks. A quote that a
// later row's text closes was a stray one, and the rows between are no cell.
func (c *Reader) cellOver() bool {
	for n := 1; ; n++ {
		ahead, err := c.r.Peek(n)
		if err != nil {
			return true // an error comes again with the next byte
		}
		if b := ahead[n-1]; b != ' ' || c.o.Strict {
			return b == c.o.Delimiter || b == '\n' || b == '\r' && !c.o.Exact
		}
	}
}

// quoted reads from behind an opening quote to behind its closing one.
func (c *Reader) quoted() error {
	opened := c.line
	for {
		b, err := c.r.ReadByte()
		switch {
		case err == io.EOF:
			return &QuoteError{Line: opened}
		case err != nil:
			return err
		case b == '\n' || b == '\r' && !c.o.Exact:
			if err := c.lineEnd(b); err != nil {
				return err
			}
			c.row = append(c.row, '\n')
			continue
		case b != '"':
			c.row = append(c.row, b)
			continue
		}
		after, err := c.r.Peek(1)
		if err != nil || after[0] != '"' {
			return nil // an error comes again with the next byte
		}
		if _, err := c.r.Discard(1); err != nil {
			return err
		}
		c.row = append(c.row, '"')
	}
}

// lineEnd counts a line and takes the LF of a CRLF.
func (c *Reader) lineEnd(b byte) error {
	c.line++
	if b == '\n' {
		return nil
	}
	after, err := c.r.Peek(1)
	if err != nil || after[0] != '\n' {
		return nil // an error comes again with the next byte
	}
	_, err = c.r.Discard(1)
	return err
}

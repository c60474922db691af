package sheet

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

// csvReader splits text into rows by RFC 4180, and reads on where people and
// programs stray from it: any of CR, LF and CRLF ends a line, a quote within an
// unquoted cell stands for itself, blanks may stand before an opening quote,
// and what follows a closing quote belongs to the cell.
type csvReader struct {
	r         *bufio.Reader
	delimiter byte
	line      int // the line at which the next row begins
	cells     []Cell
	cell      []byte
}

func newCSV(r io.Reader, delimiter byte) *csvReader {
	return &csvReader{r: bufio.NewReaderSize(r, 64<<10), delimiter: delimiter, line: 1}
}

// end is how a cell ended.
type end int

const (
	cellEnds end = iota // by a delimiter
	rowEnds             // by a line end or the end of the file
)

// next returns the next row, [io.EOF] after the last.
func (c *csvReader) next() (Row, error) {
	row := Row{Line: c.line}
	c.cells = c.cells[:0]
	if _, err := c.r.Peek(1); err != nil {
		return row, err
	}
	for {
		how, err := c.readCell()
		if err != nil {
			return row, err
		}
		c.cells = append(c.cells, Cell{Text: string(c.cell)})
		if how == rowEnds {
			row.Cells = c.cells
			return row, nil
		}
	}
}

// readCell reads one cell up to what ends it.
func (c *csvReader) readCell() (end, error) {
	c.cell = c.cell[:0]
	for onlyBlanks := true; ; {
		b, err := c.r.ReadByte()
		switch {
		case err == io.EOF:
			return rowEnds, nil
		case err != nil:
			return rowEnds, err
		case b == c.delimiter:
			return cellEnds, nil
		case b == '\r' || b == '\n':
			return rowEnds, c.lineEnd(b)
		case b == '"' && onlyBlanks:
			c.cell = c.cell[:0]
			opened := c.line
			if err := c.quoted(); err != nil {
				return rowEnds, err
			}
			if c.line > opened && !c.cellOver() {
				return rowEnds, &QuoteError{Line: opened}
			}
			onlyBlanks = false
			continue
		}
		onlyBlanks = onlyBlanks && b == ' '
		c.cell = append(c.cell, b)
	}
}

// cellOver reports whether a cell ends here, maybe after blanks. A quote that a
// later row's text closes was a stray one, and the rows between are no cell.
func (c *csvReader) cellOver() bool {
	for n := 1; ; n++ {
		ahead, err := c.r.Peek(n)
		if err != nil {
			return true // an error comes again with the next byte
		}
		if b := ahead[n-1]; b != ' ' {
			return b == c.delimiter || b == '\r' || b == '\n'
		}
	}
}

// quoted reads from behind an opening quote to behind its closing one. Line
// ends inside become LF.
func (c *csvReader) quoted() error {
	opened := c.line
	for {
		b, err := c.r.ReadByte()
		switch {
		case err == io.EOF:
			return &QuoteError{Line: opened}
		case err != nil:
			return err
		case b == '\r' || b == '\n':
			if err := c.lineEnd(b); err != nil {
				return err
			}
			c.cell = append(c.cell, '\n')
			continue
		case b != '"':
			c.cell = append(c.cell, b)
			continue
		}
		after, err := c.r.Peek(1)
		if err != nil || after[0] != '"' {
			return nil // an error comes again with the next byte
		}
		if _, err := c.r.Discard(1); err != nil {
			return err
		}
		c.cell = append(c.cell, '"')
	}
}

// lineEnd counts a line and takes the LF of a CRLF.
func (c *csvReader) lineEnd(b byte) error {
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

package archive

import (
	"bufio"
	"errors"
	"io"
)

// rowReader reads the rows of an export to the byte. The CSV reader of the
// standard library turns every CR LF into LF, also inside quotes, and a note
// that somebody wrote in a browser holds CR LF.
type rowReader struct{ r *bufio.Reader }

func newRowReader(r io.Reader) *rowReader { return &rowReader{bufio.NewReaderSize(r, 64<<10)} }

// errQuote says that a file was not written by an export.
var errQuote = errors.New("a quote that is not closed, or one inside a cell")

// read returns the next row; io.EOF after the last. Cells are separated by
// commas and rows by LF; a cell in quotes may hold both, and its own quotes are
// doubled.
func (r *rowReader) read() ([]string, error) {
	if _, err := r.r.Peek(1); err != nil {
		return nil, err
	}
	var row []string
	for {
		cell, end, err := r.cell()
		if err != nil {
			return nil, err
		}
		row = append(row, cell)
		if end {
			return row, nil
		}
	}
}

// cell reads one cell and what follows it: a comma, or the end of the row.
func (r *rowReader) cell() (text string, end bool, err error) {
	c, err := r.r.ReadByte()
	if err == nil && c == '"' {
		return r.quoted()
	}
	var b []byte
	for ; err == nil && c != ',' && c != '\n'; c, err = r.r.ReadByte() {
		if c == '"' {
			return "", false, errQuote
		}
		b = append(b, c)
	}
	if err != nil && err != io.EOF {
		return "", false, err
	}
	return string(b), err == io.EOF || c == '\n', nil
}

// quoted reads the rest of a cell that began with a quote.
func (r *rowReader) quoted() (text string, end bool, err error) {
	var b []byte
	for {
		c, err := r.r.ReadByte()
		if err != nil {
			return "", false, unclosed(err)
		}
		if c != '"' {
			b = append(b, c)
			continue
		}
		switch c, err = r.r.ReadByte(); {
		case err == io.EOF, err == nil && c == '\n':
			return string(b), true, nil
		case err != nil:
			return "", false, err
		case c == ',':
			return string(b), false, nil
		case c != '"':
			return "", false, errQuote
		}
		b = append(b, '"')
	}
}

func unclosed(err error) error {
	if err == io.EOF {
		return errQuote
	}
	return err
}

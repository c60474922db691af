package sheet

import (
	"bufio"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"os"
	"slices"
)

// rowCache holds the rows of one workbook's sheet in a temporary file, because
// unpacking and parsing a sheet costs ten times what reading its rows back
// does, and an intake reads them several times.
type rowCache struct {
	file *os.File
	w    *bufio.Writer
	buf  []byte
}

func newRowCache() (*rowCache, error) {
	f, err := os.CreateTemp("", "bellbuoy-sheet-*") // readable by its owner only
	if err != nil {
		return nil, err
	}
	return &rowCache{file: f, w: bufio.NewWriterSize(f, 64<<10)}, nil
}

// add keeps a row: how long it is, its line, and each cell's kind, length and text.
func (k *rowCache) add(r Row) error {
	b := binary.AppendUvarint(k.buf[:0], uint64(r.Line))
	for _, c := range r.Cells {
		b = binary.AppendUvarint(append(b, byte(c.Kind)), uint64(len(c.Text)))
		b = append(b, c.Text...)
	}
	k.buf = b
	if _, err := k.w.Write(binary.AppendUvarint(nil, uint64(len(b)))); err != nil {
		return err
	}
	_, err := k.w.Write(b)
	return err
}

// done ends the adding.
func (k *rowCache) done() error { return k.w.Flush() }

// rows reads all rows back.
func (k *rowCache) rows(fn func(Row) error) error {
	if _, err := k.file.Seek(0, io.SeekStart); err != nil {
		return err
	}
	r := bufio.NewReaderSize(k.file, 64<<10)
	var row Row
	for {
		size, err := binary.ReadUvarint(r)
		if err == io.EOF {
			return nil
		}
		if err == nil {
			k.buf = slices.Grow(k.buf[:0], int(size))[:size]
			_, err = io.ReadFull(r, k.buf)
		}
		if err != nil {
			return fmt.Errorf("read the kept rows: %w", err)
		}
		line, n := binary.Uvarint(k.buf)
		row.Line = int(line)
		row.Cells = appendCells(row.Cells[:0], k.buf[n:])
		if err := fn(row); err != nil {
			return err
		}
	}
}

// appendCells takes the cells of a kept row apart. Their texts are pieces of one.
func appendCells(to []Cell, b []byte) []Cell {
	for s := string(b); len(s) > 0; {
		size, n := binary.Uvarint(b[1:])
		end := 1 + n + int(size)
		to = append(to, Cell{Text: s[1+n : end], Kind: Kind(s[0])})
		s, b = s[end:], b[end:]
	}
	return to
}

func (k *rowCache) close() error { return errors.Join(k.file.Close(), os.Remove(k.file.Name())) }

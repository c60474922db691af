package sheet

import (
	"bufio"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"os"
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

// add keeps a row.
func (k *rowCache) add(r Row) error {
	b := binary.AppendUvarint(k.buf[:0], uint64(r.Line))
	b = binary.AppendUvarint(b, uint64(len(r.Cells)))
	for _, c := range r.Cells {
		b = binary.AppendUvarint(append(b, byte(c.Kind)), uint64(len(c.Text)))
		b = append(b, c.Text...)
	}
	k.buf = b
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
		line, err := binary.ReadUvarint(r)
		if err == io.EOF {
			return nil
		}
		if err != nil {
			return err
		}
		row.Line = int(line)
		if row.Cells, err = k.cells(r, row.Cells[:0]); err != nil {
			return fmt.Errorf("read the kept rows: %w", err)
		}
		if err := fn(row); err != nil {
			return err
		}
	}
}

func (k *rowCache) cells(r *bufio.Reader, to []Cell) ([]Cell, error) {
	n, err := binary.ReadUvarint(r)
	if err != nil {
		return to, err
	}
	for range n {
		kind, err := r.ReadByte()
		if err != nil {
			return to, err
		}
		size, err := binary.ReadUvarint(r)
		if err != nil {
			return to, err
		}
		text := make([]byte, size)
		if _, err := io.ReadFull(r, text); err != nil {
			return to, err
		}
		to = append(to, Cell{Text: string(text), Kind: Kind(kind)})
	}
	return to, nil
}

func (k *rowCache) close() error { return errors.Join(k.file.Close(), os.Remove(k.file.Name())) }

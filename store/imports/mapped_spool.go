package imports

import (
	"bufio"
	"encoding/csv"
	"errors"
	"io"
	"os"
	"strings"
)

// spool is one of the five files while the rows that become it are read. It
// remembers which rows each of its lines came from.
type spool struct {
	file   *os.File
	buf    *bufio.Writer
	w      *csv.Writer
	origin []int32 // by line: where its first row stands in rows
	rows   []place // of all lines, one after the other
}

// headers of the spooled files.
func spoolHeader(kind string) []string {
	switch kind {
	case "customers.csv":
		return []string{"customer_id", "name", "email", "phone", "address", "city", "region", "postal_code", "contact_by", "language"}
	case "boats.csv":
		return []string{"boat_id", "customer_id", "hin", "name", "make", "model", "year", "kind", "length_ft", "water", "place", "berth", "sold_on", "warranty_until", "winter_work"}
	case "components.csv":
		return []string{"component_id", "boat_id", "kind", "label", "propulsion", "stroke", "fuel", "cooling", "in_service", "expires", "made", "family", "duty"}
	case "readings.csv":
		return []string{"component_id", "day", "hours", "read_by"}
	}
	return []string{"boat_id", "component_id", "day", "service", "hours", "amount", "by", "note", "record_id", "source", "named"}
}

func newSpool(kind string) (*spool, error) {
	f, err := os.CreateTemp("", "bellbuoy-intake-*") // readable by its owner only
	if err != nil {
		return nil, err
	}
	s := &spool{file: f, buf: bufio.NewWriterSize(f, 64<<10)}
	s.w = csv.NewWriter(s.buf)
	if kind == "components.csv" {
		return s, nil // its header depends on the attributes
	}
	return s, s.write(nil, spoolHeader(kind)...)
}

// write adds a line that came from some rows.
func (s *spool) write(from []place, cells ...string) error {
	height := 1
	for i, c := range cells {
		if strings.ContainsRune(c, '\r') {
			cells[i] = strings.ReplaceAll(c, "\r", "\n")
		}
		height += strings.Count(cells[i], "\n")
	}
	for range height {
		s.origin = append(s.origin, int32(len(s.rows)))
	}
	s.rows = append(s.rows, from...)
	return s.w.Write(cells)
}

// from returns the rows that a line came from; lines count from 1.
func (s *spool) from(line int) []place {
	if line < 1 || line > len(s.origin) {
		return nil
	}
	begin, end := s.origin[line-1], int32(len(s.rows))
	for _, next := range s.origin[line:] {
		if next != begin {
			end = next
			break
		}
	}
	return s.rows[begin:end]
}

// open ends the writing and begins the reading.
func (s *spool) open() (io.Reader, error) {
	s.w.Flush()
	if err := errors.Join(s.w.Error(), s.buf.Flush()); err != nil {
		return nil, err
	}
	_, err := s.file.Seek(0, io.SeekStart)
	return s.file, err
}

// each reads the lines back behind the header, with the rows they came from.
func (s *spool) each(fn func(from []place, cells []string) error) error {
	f, err := s.open()
	if err != nil {
		return err
	}
	r := csv.NewReader(f)
	for first := true; ; first = false {
		cells, err := r.Read()
		if err == io.EOF {
			return nil
		}
		if err != nil {
			return err
		}
		if first {
			continue
		}
		line, _ := r.FieldPos(0)
		if err := fn(s.from(line), cells); err != nil {
			return err
		}
	}
}

func (s *spool) close() error {
	return errors.Join(s.file.Close(), os.Remove(s.file.Name()))
}

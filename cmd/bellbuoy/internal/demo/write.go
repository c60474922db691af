package demo

import (
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"iter"
	"os"
	"path/filepath"

	"bellbuoy/schedule"
	"bellbuoy/store/imports/columns"
)

// attributes are those that the demo's components have beside the usual ones.
var attributes = []string{"brakes", "jacket", "timing"}

// Writer writes parts of a shop as the five CSV files: UTF-8, comma, one
// header line, days as YYYY-MM-DD. Nothing is kept but the open lines.
type Writer struct {
	files []*csv.Writer // in the order of columns.Names
	// The files without the columns that the demo leaves empty.
	customers *columns.File[schedule.Customer]
	boats     *columns.File[columns.Boat]
	history   *columns.File[schedule.Record]
}

// NewWriter writes the header lines. It calls open once for each of the five
// names; the caller closes what it opened after Flush.
func NewWriter(open func(name string) (io.Writer, error)) (*Writer, error) {
	w := &Writer{customers: columns.Customers.Without("language"), boats: columns.Boats.Without("origin", "winter_work"), history: columns.History.Without("record_id")}
	for _, name := range columns.Names() {
		out, err := open(name)
		if err != nil {
			return nil, err
		}
		w.files = append(w.files, csv.NewWriter(out))
	}
	for i, header := range [][]string{w.customers.Header(), w.boats.Header(), columns.Components.Header(attributes...), w.history.Header(), columns.Readings.Header()} {
		w.line(i, header)
	}
	return w, w.Flush()
}

// line leaves errors to Flush: a csv.Writer keeps its first one.
func (w *Writer) line(file int, cells []string) { _ = w.files[file].Write(cells) }

// Add writes one part.
func (w *Writer) Add(s *Shop) error {
	for i := range s.Customers {
		w.line(0, w.customers.Cells(&s.Customers[i]))
	}
	for _, b := range s.Boats {
		w.line(1, w.boats.Cells(&columns.Boat{Boat: b.Boat, CustomerID: b.CustomerID}))
	}
	for i := range s.Components {
		w.line(2, columns.Components.Cells(&s.Components[i], attributes...))
	}
	for i := range s.Records {
		w.line(3, w.history.Cells(&s.Records[i]))
	}
	for _, r := range s.Readings {
		w.line(4, columns.Readings.Cells(&columns.Reading{Reading: r, HasHours: true}))
	}
	return w.err()
}

// Flush writes out what is buffered and returns the first error of any file.
func (w *Writer) Flush() error {
	for _, f := range w.files {
		f.Flush()
	}
	return w.err()
}

func (w *Writer) err() error {
	for i, f := range w.files {
		if err := f.Error(); err != nil {
			return fmt.Errorf("write %s: %w", columns.Names()[i], err)
		}
	}
	return nil
}

// WriteParts writes the five files of a shop into a folder that exists, over files
// of the same names.
func WriteParts(dir string, parts iter.Seq[*Shop]) (err error) {
	var opened []*os.File
	defer func() {
		for _, f := range opened {
			err = errors.Join(err, f.Close())
		}
	}()
	w, err := NewWriter(func(name string) (io.Writer, error) {
		f, err := os.Create(filepath.Join(dir, name))
		if err != nil {
			return nil, fmt.Errorf("write the demo shop: %w", err)
		}
		opened = append(opened, f)
		return f, nil
	})
	if err != nil {
		return err
	}
	for part := range parts {
		if err := w.Add(part); err != nil {
			return err
		}
	}
	return w.Flush()
}

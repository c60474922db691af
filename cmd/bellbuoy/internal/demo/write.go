package demo

import (
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"iter"
	"os"
	"path/filepath"
	"strconv"
	"time"

	"bellbuoy/schedule"
)

// fileNames are the five files, in the order in which they refer to each other.
var fileNames = [...]string{"customers.csv", "boats.csv", "components.csv", "history.csv", "readings.csv"}

// headers are the first lines of the five files, in the order of fileNames.
var headers = [...][]string{
	{"customer_id", "name", "email", "phone", "address", "city", "region", "postal_code", "contact_by"},
	{"boat_id", "customer_id", "hin", "name", "make", "model", "year", "kind", "length_ft", "water", "place", "berth", "sold_on", "warranty_until"},
	{"component_id", "boat_id", "kind", "label", "propulsion", "stroke", "fuel", "cooling", "in_service", "expires", "made", "family", "duty", "brakes", "jacket", "timing"},
	{"boat_id", "component_id", "day", "service", "hours", "amount", "by", "note"},
	{"component_id", "day", "hours", "read_by", "new_meter"},
}

// Writer writes parts of a shop as the five CSV files: UTF-8, comma, one
// header line, days as YYYY-MM-DD. Nothing is kept but the open lines.
type Writer struct {
	files [len(fileNames)]*csv.Writer
}

// NewWriter writes the header lines. It calls open once for each of the five
// names; the caller closes what it opened after Flush.
func NewWriter(open func(name string) (io.Writer, error)) (*Writer, error) {
	w := &Writer{}
	for i, name := range fileNames {
		out, err := open(name)
		if err != nil {
			return nil, err
		}
		w.files[i] = csv.NewWriter(out)
		w.line(i, headers[i]...)
	}
	return w, w.Flush()
}

// line leaves errors to Flush: a csv.Writer keeps its first one.
func (w *Writer) line(file int, fields ...string) { _ = w.files[file].Write(fields) }

// Add writes one part.
func (w *Writer) Add(s *Shop) error {
	for _, c := range s.Customers {
		w.line(0, c.ID, c.Name, c.Email, c.Phone, c.Address, c.City, c.Region, c.PostalCode, c.ContactBy)
	}
	for _, b := range s.Boats {
		w.line(1, b.ID, b.CustomerID, b.HIN, b.Name, b.Make, b.Model, strconv.Itoa(b.Year), b.Kind,
			strconv.FormatFloat(b.LengthFt, 'f', -1, 64), b.Water, b.Place, b.Berth, b.SoldOn.String(), b.WarrantyUntil.String())
	}
	for _, c := range s.Components {
		w.line(2, c.ID, c.BoatID, c.Kind, c.Label, c.Attr.Propulsion, c.Attr.Stroke, c.Attr.Fuel, c.Attr.Cooling,
			c.InService.String(), c.Expires.String(), made(c), c.Attr.Family, duty(c.Duty), c.Attr.Get("brakes"), c.Attr.Get("jacket"), c.Attr.Get("timing"))
	}
	for _, r := range s.Records {
		w.line(3, r.BoatID, r.ComponentID, r.Day.String(), r.Service, recordHours(r), amount(r), r.By, r.Note)
	}
	for _, r := range s.Readings {
		w.line(4, r.ComponentID, r.Day.String(), r.Hours.String(), r.ReadBy, yes(r.NewMeter))
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
			return fmt.Errorf("write %s: %w", fileNames[i], err)
		}
	}
	return nil
}

// WriteTo writes the five files into a folder that exists, over files of the
// same names.
func (s *Shop) WriteTo(dir string) error {
	return WriteParts(dir, func(yield func(*Shop) bool) { yield(s) })
}

// WriteParts is WriteTo for a shop of any size, part by part.
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

// made writes the day of manufacture; a stamp that gives only the year reads
// as its 1 January and is written back as the year.
func made(c schedule.Component) string {
	if y, m, d := c.Made.Date(); c.Made != 0 && m == time.January && d == 1 {
		return strconv.Itoa(y)
	}
	return c.Made.String()
}

func duty(percent int) string {
	if percent == 0 {
		return ""
	}
	return strconv.Itoa(percent)
}

func recordHours(r schedule.Record) string {
	if !r.HasHours {
		return ""
	}
	return r.Hours.String()
}

// amount leaves the field empty for work that this shop did not charge for.
func amount(r schedule.Record) string {
	if r.By != schedule.ByShop {
		return ""
	}
	return r.Amount.String()
}

func yes(b bool) string {
	if b {
		return "yes"
	}
	return ""
}

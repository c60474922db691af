package sheet

import (
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"strconv"

	"github.com/xuri/excelize/v2"
)

// Writer writes rows out again, table by table.
type Writer interface {
	// Sheet begins a table.
	Sheet(name string) error
	// Row writes one row of it.
	Row(cells []Cell) error
	// Close writes what is left. It does not close the destination.
	Close() error
}

// NewCSVWriter writes UTF-8 with a mark, so that spreadsheets read it right,
// and CRLF line ends (RFC 4180). A second table is an error: text holds one.
func NewCSVWriter(w io.Writer, delimiter string) (Writer, error) {
	if _, err := io.WriteString(w, "\uFEFF"); err != nil {
		return nil, err
	}
	c := csv.NewWriter(w)
	c.UseCRLF = true
	c.Comma = rune(delimiter[0])
	return &csvWriter{w: c}, nil
}

type csvWriter struct {
	w      *csv.Writer
	begun  bool
	fields []string
}

func (c *csvWriter) Sheet(name string) error {
	if c.begun {
		return fmt.Errorf("a text file holds one table; write %q into an .xlsx workbook", name)
	}
	c.begun = true
	return nil
}

func (c *csvWriter) Row(cells []Cell) error {
	c.fields = c.fields[:0]
	for _, cell := range cells {
		c.fields = append(c.fields, cell.Text)
	}
	return c.w.Write(c.fields)
}

func (c *csvWriter) Close() error {
	c.w.Flush()
	return c.w.Error()
}

// NewXLSXWriter writes a workbook. Days are written as text YYYY-MM-DD, which
// every mapping reads.
func NewXLSXWriter(w io.Writer) Writer { return &xlsxWriter{to: w, file: excelize.NewFile()} }

type xlsxWriter struct {
	to     io.Writer
	file   *excelize.File
	stream *excelize.StreamWriter
	row    int
}

func (x *xlsxWriter) Sheet(name string) error {
	if err := x.flush(); err != nil {
		return err
	}
	if x.stream == nil { // the one that a new workbook comes with
		if err := x.file.SetSheetName(x.file.GetSheetName(0), name); err != nil {
			return err
		}
	} else if _, err := x.file.NewSheet(name); err != nil {
		return err
	}
	var err error
	x.row = 0
	x.stream, err = x.file.NewStreamWriter(name)
	return err
}

func (x *xlsxWriter) Row(cells []Cell) error {
	x.row++
	values := make([]any, len(cells))
	for i, c := range cells {
		values[i] = c.Text
		if f, err := strconv.ParseFloat(c.Text, 64); c.Kind == Number && err == nil {
			values[i] = f
		}
	}
	axis, err := excelize.CoordinatesToCellName(1, x.row)
	if err != nil {
		return err
	}
	return x.stream.SetRow(axis, values)
}

func (x *xlsxWriter) flush() error {
	if x.stream == nil {
		return nil
	}
	return x.stream.Flush()
}

func (x *xlsxWriter) Close() error {
	err := x.flush()
	if err == nil {
		err = x.file.Write(x.to)
	}
	return errors.Join(err, x.file.Close())
}

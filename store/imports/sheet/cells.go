package sheet

import (
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"regexp"
	"strconv"
	"strings"

	"github.com/xuri/excelize/v2"
)

// mark is what a sheet says about one cell.
type mark struct {
	text    string // what stands in it; of a shared one the number of the text
	shared  bool
	number  bool
	formula bool
	style   int
}

// cellReader reads the cells of a sheet, row by row.
type cellReader struct {
	dec    *xml.Decoder
	line   int // of the row that was read last
	inRow  bool
	marks  []mark
	column int // of the cell that is open, from 1; 0 for none
	text   texter
	depth  int // elements that are open
	inside bool
}

// row returns the cells of the next row by column; at the end it is [io.EOF].
func (r *cellReader) row() ([]mark, error) {
	for {
		token, err := r.dec.RawToken()
		if err == io.EOF && r.depth != 0 {
			err = errors.New("it ends in the middle")
		}
		if err != nil {
			return nil, err
		}
		switch t := token.(type) {
		case xml.StartElement:
			r.depth++
			if err := r.start(t); err != nil {
				return nil, err
			}
		case xml.CharData:
			r.text.add(t)
		case xml.EndElement:
			r.depth--
			r.text.end(t.Name.Local)
			switch {
			case t.Name.Local == "sheetData" && r.inRow:
				return nil, fmt.Errorf("row %d has no end", r.line)
			case t.Name.Local == "sheetData":
				r.inside = false
			case t.Name.Local == "c" && r.column > 0:
				r.marks[r.column-1].text = r.text.take()
				r.column = 0
			case t.Name.Local == "row" && r.inRow:
				r.inRow = false
				return r.marks, nil
			}
		}
	}
}

func (r *cellReader) start(t xml.StartElement) error {
	switch name := t.Name.Local; {
	case name == "sheetData":
		r.inside = true
	case !r.inside:
	case name == "row":
		n := rowNumber(t, r.line)
		if n <= r.line || n > excelize.TotalRows {
			return fmt.Errorf("row %d stands behind row %d", n, r.line)
		}
		if r.inRow {
			return fmt.Errorf("row %d begins in row %d", n, r.line)
		}
		r.line, r.column, r.marks, r.inRow = n, 0, r.marks[:0], true
	case name == "c" && !r.inRow:
		return fmt.Errorf("a cell stands outside of the rows, after row %d", r.line)
	case name == "c":
		return r.cell(t)
	case name == "f" && r.column > 0:
		r.marks[r.column-1].formula = true
	case r.column > 0:
		r.text.start(name)
	}
	return nil
}

func rowNumber(start xml.StartElement, before int) int {
	for _, a := range start.Attr {
		if n, err := strconv.Atoi(a.Value); a.Name.Local == "r" && err == nil && n != 0 {
			return n
		}
	}
	return before + 1
}

// cell opens a cell at its column.
func (r *cellReader) cell(start xml.StartElement) error {
	m, column := mark{number: true}, len(r.marks)+1
	for _, a := range start.Attr {
		switch a.Name.Local {
		case "r":
			c, _, err := excelize.CellNameToCoordinates(a.Value)
			if err != nil {
				return err
			}
			column = c
		case "s":
			m.style, _ = strconv.Atoi(a.Value) // a style that is none shows numbers
		case "t":
			m.number, m.shared = a.Value == "n", a.Value == "s"
		}
	}
	for len(r.marks) < column {
		r.marks = append(r.marks, mark{})
	}
	r.marks[column-1] = m
	r.column = column
	return nil
}

// texter puts a text together that stands in one element v, or in several elements t as
// parts that look different. How it is pronounced (rPh) is no part of it.
type texter struct {
	text    []byte
	open    bool
	spoken  bool
	escapes bool // it is a text, in which _x000A_ stands for a line end
}

func (x *texter) start(name string) {
	switch name {
	case "v":
		x.open = true
	case "t":
		x.open, x.escapes = !x.spoken, true
	case "rPh":
		x.spoken = true
	}
}

func (x *texter) add(text []byte) {
	if x.open {
		x.text = append(x.text, text...)
	}
}

func (x *texter) end(name string) {
	switch name {
	case "v", "t":
		x.open = false
	case "rPh":
		x.spoken = false
	}
}

// take returns the text and begins the next one.
func (x *texter) take() string {
	s := string(x.text)
	if x.escapes && strings.Contains(s, "_x") {
		s = escaped.ReplaceAllStringFunc(s, func(e string) string {
			n, _ := strconv.ParseUint(e[2:6], 16, 16) // only hexadecimal digits
			return string(rune(n))
		})
	}
	*x = texter{text: x.text[:0]}
	return s
}

// escaped is a character that XML cannot hold, as workbooks write it (ECMA-376 part 1,
// 22.9.2.19).
var escaped = regexp.MustCompile("_x[0-9a-fA-F]{4}_")

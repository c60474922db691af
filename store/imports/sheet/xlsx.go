package sheet

import (
	"archive/zip"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"path"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"github.com/xuri/excelize/v2"
	"github.com/xuri/nfp"
)

// workbook reads the sheets of a workbook row by row. The library knows the number
// formats, because a date is only a number with a certain one, and works out formulas;
// the cells are read here, in one go, which it would take four times as long for.
type workbook struct {
	file       *excelize.File
	zip        *zip.Reader
	parts      map[string]string // sheet name to its part in the package
	sharedPart string            // holds the texts that cells share, "" if there are none
	texts      []string
	hidden     []string             // sheets that the workbook's program does not show
	since      bool                 // days are counted from 1904
	looks      map[int]look         // by style
	cached     map[string]*rowCache // sheets that were read to their end
}

// unzipLimit is the most that a workbook may unpack to, in bytes: the sheets of
// a shop have some tens of megabytes.
const unzipLimit = 512 << 20

func openWorkbook(src io.ReaderAt, size int64) (*workbook, error) {
	w := &workbook{looks: map[int]look{}, cached: map[string]*rowCache{}}
	var err error
	if w.zip, err = zip.NewReader(src, size); err != nil {
		return nil, err
	}
	var unpacked uint64
	for _, f := range w.zip.File {
		unpacked += f.UncompressedSize64
	}
	if unpacked > unzipLimit {
		return nil, fmt.Errorf("it unpacks to %d MB, more than the %d MB that are read; save the sheets one by one as CSV", unpacked>>20, unzipLimit>>20)
	}
	if err = w.readParts(); err != nil {
		return nil, err
	}
	w.file, err = excelize.OpenReader(io.NewSectionReader(src, 0, size), excelize.Options{UnzipSizeLimit: unzipLimit})
	if err != nil {
		return nil, err
	}
	props, err := w.file.GetWorkbookProps()
	if err != nil {
		return nil, errors.Join(err, w.close())
	}
	w.since = props.Date1904 != nil && *props.Date1904
	return w, nil
}

func (w *workbook) close() error {
	err := w.file.Close()
	for _, k := range w.cached {
		err = errors.Join(err, k.close())
	}
	return err
}

// names are the sheets that hold cells, in the workbook's order.
func (w *workbook) names() []string {
	var all []string
	for _, name := range w.file.GetSheetList() {
		if strings.Contains(w.parts[name], "worksheets/") && !slices.Contains(w.hidden, name) {
			all = append(all, name)
		}
	}
	return all
}

// rows reads a sheet, from what was kept of it if it was read before.
func (w *workbook) rows(sheet string, fn func(Row) error) error {
	if k := w.cached[sheet]; k != nil {
		return k.rows(fn)
	}
	k, err := newRowCache()
	if err != nil {
		return err
	}
	err = w.parse(sheet, func(r Row) error {
		if err := k.add(r); err != nil {
			return err
		}
		return fn(r)
	})
	if err == nil {
		err = k.done()
	}
	if err != nil {
		k.close() // the reading was broken off; a later one begins again
		return err
	}
	w.cached[sheet] = k
	return nil
}

// parse reads a sheet out of the package.
func (w *workbook) parse(sheet string, fn func(Row) error) error {
	if err := w.readTexts(); err != nil {
		return err
	}
	part, err := w.zip.Open(w.parts[sheet])
	if err != nil {
		return fmt.Errorf("sheet %q: %w", sheet, err)
	}
	defer part.Close() // only read
	r := cellReader{dec: xml.NewDecoder(part)}
	row := Row{}
	for {
		marks, err := r.row()
		if err == io.EOF {
			return nil
		}
		if err != nil {
			return fmt.Errorf("sheet %q is broken after row %d: %w; open the workbook and save it again", sheet, row.Line, err)
		}
		row.Line = r.line
		if row.Cells, err = w.cells(row.Cells[:0], sheet, row.Line, marks); err != nil {
			return err
		}
		if blank(row.Cells) {
			continue
		}
		if err := fn(row); err != nil {
			return err
		}
	}
}

// cells makes values of what a row says. What a formula comes to that was saved
// without its result is worked out.
func (w *workbook) cells(to []Cell, sheet string, line int, marks []mark) ([]Cell, error) {
	for i, m := range marks {
		v := m.text
		if m.shared && v != "" {
			n, err := strconv.Atoi(strings.TrimSpace(v))
			if err != nil || n < 0 || n >= len(w.texts) {
				return to, fmt.Errorf("sheet %q, row %d: a cell refers to the text %q of the workbook, which it does not have; open the workbook and save it again", sheet, line, v)
			}
			v = w.texts[n]
		}
		if v == "" && m.formula {
			name, err := excelize.CoordinatesToCellName(i+1, line)
			if err == nil {
				v, err = w.file.CalcCellValue(sheet, name, excelize.Options{RawCellValue: true})
			}
			if err != nil {
				return to, fmt.Errorf("sheet %q, cell %s: the file does not hold what its formula comes to (%w); open the workbook and save it again", sheet, name, err)
			}
			_, notNumber := strconv.ParseFloat(v, 64)
			m.number = notNumber == nil
		}
		c := Cell{Text: v}
		if m.number && v != "" {
			c = w.number(v, m.style)
		}
		to = append(to, c)
	}
	return to, nil
}

// number writes a number plainly, or the day that it stands for.
func (w *workbook) number(v string, style int) Cell {
	f, err := strconv.ParseFloat(v, 64)
	if err != nil {
		return Cell{Text: v}
	}
	look := w.look(style)
	if look.day {
		if t, err := excelize.ExcelDateToTime(f, w.since); err == nil {
			return Cell{Text: t.Format("2006-01-02"), Kind: Day}
		}
	}
	text := strconv.FormatFloat(f, 'f', -1, 64)
	if look.digits > 0 && !strings.ContainsAny(text, ".-") {
		// A postal code 02138 is the number 2138 with a format of five zeros.
		return Cell{Text: strings.Repeat("0", max(0, look.digits-len(text))) + text}
	}
	return Cell{Text: text, Kind: Number}
}

// look is how a style shows a number: as a day, or filled up to some digits, 0 for as
// many as it has.
type look struct {
	day    bool
	digits int
}

// look reads a style once.
func (w *workbook) look(style int) look {
	l, known := w.looks[style]
	if known {
		return l
	}
	if s, err := w.file.GetStyle(style); err == nil {
		l.day = dateFormat(s.NumFmt, s.CustomNumFmt)
		if code := s.CustomNumFmt; code != nil && strings.Trim(*code, "0") == "" && len(*code) >= 2 {
			l.digits = len(*code)
		}
	}
	w.looks[style] = l
	return l
}

// dateFormat looks at a number format: by its number, which the standard
// (ECMA-376 part 1, 18.8.30) gives a meaning, or by its own code.
func dateFormat(id int, custom *string) bool {
	if custom == nil {
		return id >= 14 && id <= 17 || id == 22 || id >= 27 && id <= 36 || id >= 50 && id <= 58
	}
	p := nfp.NumberFormatParser()
	for _, section := range p.Parse(*custom) {
		for _, token := range section.Items {
			if token.TType == nfp.TokenTypeDateTimes && strings.ContainsAny(token.TValue, "yYdD") {
				return true
			}
		}
	}
	return false
}

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
			case t.Name.Local == "sheetData":
				r.inside = false
			case t.Name.Local == "c" && r.column > 0:
				r.marks[r.column-1].text = r.text.take()
				r.column = 0
			case t.Name.Local == "row" && r.inside:
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
		r.line, r.column, r.marks = n, 0, r.marks[:0]
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

// textLimit is the most that the different texts of a workbook may come to, in bytes:
// they are kept in memory.
const textLimit = 64 << 20

// readTexts reads the texts that the cells of all sheets share, once.
func (w *workbook) readTexts() error {
	if w.sharedPart == "" || w.texts != nil {
		return nil
	}
	part, err := w.zip.Open(w.sharedPart)
	if err != nil {
		return fmt.Errorf("%s: %w", w.sharedPart, err)
	}
	defer part.Close() // only read
	dec, text, size, depth := xml.NewDecoder(part), texter{}, 0, 0
	texts := []string{}
	for {
		token, err := dec.RawToken()
		switch {
		case err == io.EOF && depth == 0:
			w.texts = texts
			return nil
		case err != nil:
			return fmt.Errorf("the workbook's texts are broken after the first %d: %w; open the workbook and save it again", len(texts), err)
		}
		switch t := token.(type) {
		case xml.StartElement:
			depth++
			text.start(t.Name.Local)
		case xml.CharData:
			text.add(t)
		case xml.EndElement:
			depth--
			text.end(t.Name.Local)
			if t.Name.Local != "si" {
				continue
			}
			texts = append(texts, text.take())
			if size += len(texts[len(texts)-1]); size > textLimit {
				return fmt.Errorf("its different texts are more than the %d MB that are read; save the sheets one by one as CSV", textLimit>>20)
			}
		}
	}
}

// readParts maps the names of sheets to the parts of the package that hold them, and
// finds the one of the texts.
func (w *workbook) readParts() error {
	var book struct {
		Sheets []struct {
			Name  string     `xml:"name,attr"`
			State string     `xml:"state,attr"`
			Attr  []xml.Attr `xml:",any,attr"`
		} `xml:"sheets>sheet"`
	}
	var rels struct {
		All []struct {
			ID     string `xml:"Id,attr"`
			Type   string `xml:"Type,attr"`
			Target string `xml:"Target,attr"`
		} `xml:"Relationship"`
	}
	if err := readPart(w.zip, "xl/workbook.xml", &book); err != nil {
		return err
	}
	if err := readPart(w.zip, "xl/_rels/workbook.xml.rels", &rels); err != nil {
		return err
	}
	target := map[string]string{}
	for _, r := range rels.All {
		if abs, ok := strings.CutPrefix(r.Target, "/"); ok {
			target[r.ID] = abs
		} else {
			target[r.ID] = path.Join("xl", r.Target)
		}
		if strings.HasSuffix(r.Type, "/sharedStrings") {
			w.sharedPart = target[r.ID]
		}
	}
	w.parts = map[string]string{}
	for _, s := range book.Sheets {
		if s.State == "hidden" || s.State == "veryHidden" {
			w.hidden = append(w.hidden, s.Name)
		}
		for _, a := range s.Attr {
			if a.Name.Local == "id" {
				w.parts[s.Name] = target[a.Value]
			}
		}
	}
	return nil
}

// partLimit is the most that is read of the two small parts.
const partLimit = 16 << 20

func readPart(z *zip.Reader, name string, into any) error {
	f, err := z.Open(name)
	if err != nil {
		return fmt.Errorf("it holds no %s; save it as an .xlsx workbook", name)
	}
	defer f.Close() // only read
	if err := xml.NewDecoder(io.LimitReader(f, partLimit)).Decode(into); err != nil {
		return fmt.Errorf("%s: %w", name, err)
	}
	return nil
}

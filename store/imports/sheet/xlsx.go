package sheet

import (
	"archive/zip"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"path"
	"slices"
	"strconv"
	"strings"

	"github.com/xuri/excelize/v2"
	"github.com/xuri/nfp"
)

// workbook reads the sheets of a workbook row by row. The library gives the
// values; what the file says about each cell's kind is read beside it, because
// a date is only a number with a certain number format.
type workbook struct {
	file   *excelize.File
	zip    *zip.Reader
	parts  map[string]string    // sheet name to its part in the package
	hidden []string             // sheets that the workbook's program does not show
	since  bool                 // days are counted from 1904
	dates  map[int]bool         // style to whether it shows a day
	cached map[string]*rowCache // sheets that were read to their end
}

// unzipLimit is the most that a workbook may unpack to, in bytes: the sheets of
// a shop have some tens of megabytes.
const unzipLimit = 512 << 20

func openWorkbook(src io.ReaderAt, size int64) (*workbook, error) {
	w := &workbook{dates: map[int]bool{}, cached: map[string]*rowCache{}}
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
	if w.parts, w.hidden, err = sheetParts(w.zip); err != nil {
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
func (w *workbook) parse(sheet string, fn func(Row) error) (err error) {
	values, err := w.file.Rows(sheet)
	if err != nil {
		return fmt.Errorf("sheet %q: %w", sheet, err)
	}
	defer func() {
		if closeErr := values.Close(); err == nil {
			err = closeErr
		}
	}()
	part, err := w.zip.Open(w.parts[sheet])
	if err != nil {
		return fmt.Errorf("sheet %q: %w", sheet, err)
	}
	defer part.Close() // only read
	kinds := kindReader{dec: xml.NewDecoder(part)}
	row := Row{}
	for values.Next() {
		row.Line++
		cells, err := values.Columns(excelize.Options{RawCellValue: true})
		if err != nil {
			return fmt.Errorf("sheet %q, row %d: %w", sheet, row.Line, err)
		}
		marks, err := kinds.row(row.Line)
		if err != nil {
			return fmt.Errorf("sheet %q, row %d: %w", sheet, row.Line, err)
		}
		if row.Cells, err = w.cells(row.Cells[:0], sheet, row.Line, cells, marks); err != nil {
			return err
		}
		if blank(row.Cells) {
			continue
		}
		if err := fn(row); err != nil {
			return err
		}
	}
	if err := errors.Join(values.Error(), kinds.rest()); err != nil {
		return fmt.Errorf("sheet %q is broken after row %d: %w; open the workbook and save it again", sheet, row.Line, err)
	}
	return nil
}

// cells puts values and kinds together. What a formula comes to that was saved
// without its result is worked out.
func (w *workbook) cells(to []Cell, sheet string, line int, values []string, marks []mark) ([]Cell, error) {
	for i := range max(len(values), len(marks)) {
		var m mark
		if i < len(marks) {
			m = marks[i]
		}
		v := ""
		if i < len(values) {
			v = values[i]
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
	if w.isDate(style) {
		if t, err := excelize.ExcelDateToTime(f, w.since); err == nil {
			return Cell{Text: t.Format("2006-01-02"), Kind: Day}
		}
	}
	text := strconv.FormatFloat(f, 'f', -1, 64)
	if n := w.digits(style); n > 0 && !strings.ContainsAny(text, ".-") {
		// A postal code 02138 is the number 2138 with a format of five zeros.
		return Cell{Text: strings.Repeat("0", max(0, n-len(text))) + text}
	}
	return Cell{Text: text, Kind: Number}
}

// digits is how many digits a style fills a number up to, 0 for one that does not.
func (w *workbook) digits(style int) int {
	s, err := w.file.GetStyle(style)
	if err != nil || s.CustomNumFmt == nil || strings.Trim(*s.CustomNumFmt, "0") != "" || len(*s.CustomNumFmt) < 2 {
		return 0
	}
	return len(*s.CustomNumFmt)
}

// isDate reports whether a style shows a day: a number format with a year or a
// day of the month in it.
func (w *workbook) isDate(style int) bool {
	known, ok := w.dates[style]
	if ok {
		return known
	}
	s, err := w.file.GetStyle(style)
	if err == nil {
		known = dateFormat(s.NumFmt, s.CustomNumFmt)
	}
	w.dates[style] = known
	return known
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

// mark is what a sheet says about one cell beside its value.
type mark struct {
	number  bool
	formula bool
	style   int
}

// kindReader reads the marks of a sheet's cells, row by row.
type kindReader struct {
	dec   *xml.Decoder
	at    int // the row whose start was read last, 0 before the first
	ahead bool
	marks []mark
	depth int // elements that are open
}

// next returns the next token and counts what is open.
func (k *kindReader) next() (xml.Token, error) {
	token, err := k.dec.RawToken()
	switch token.(type) {
	case xml.StartElement:
		k.depth++
	case xml.EndElement:
		k.depth--
	}
	if err == io.EOF && k.depth != 0 {
		err = errors.New("it ends in the middle")
	}
	return token, err
}

// rest reads to the end, to find what is broken there.
func (k *kindReader) rest() error {
	for {
		if _, err := k.next(); err != nil {
			if err == io.EOF {
				return nil
			}
			return err
		}
	}
}

// row returns the marks of a row by column; rows are asked for in order.
func (k *kindReader) row(n int) ([]mark, error) {
	k.marks = k.marks[:0]
	if k.ahead && k.at > n {
		return nil, nil
	}
	inside := k.ahead && k.at == n
	k.ahead = false
	for {
		token, err := k.next()
		if err == io.EOF {
			return k.marks, nil
		}
		if err != nil {
			return nil, err
		}
		start, ok := token.(xml.StartElement)
		switch {
		case !ok:
			continue
		case start.Name.Local == "row":
			k.at = rowNumber(start, k.at)
			if k.at > n {
				k.ahead = true
				return k.marks, nil
			}
			inside = k.at == n
		case start.Name.Local == "c" && inside:
			k.cell(start)
		case start.Name.Local == "f" && inside && len(k.marks) > 0:
			k.marks[len(k.marks)-1].formula = true
		}
	}
}

func rowNumber(start xml.StartElement, before int) int {
	for _, a := range start.Attr {
		if n, err := strconv.Atoi(a.Value); a.Name.Local == "r" && err == nil {
			return n
		}
	}
	return before + 1
}

// cell notes the mark of one cell at its column.
func (k *kindReader) cell(start xml.StartElement) {
	m, column := mark{number: true}, len(k.marks)+1
	for _, a := range start.Attr {
		switch a.Name.Local {
		case "r":
			if c, _, err := excelize.CellNameToCoordinates(a.Value); err == nil {
				column = c
			}
		case "s":
			m.style, _ = strconv.Atoi(a.Value) // a style that is none shows numbers
		case "t":
			m.number = a.Value == "n"
		}
	}
	for len(k.marks) < column {
		k.marks = append(k.marks, mark{})
	}
	k.marks[column-1] = m
}

// sheetParts maps the names of sheets to the parts of the package that hold
// them.
func sheetParts(z *zip.Reader) (parts map[string]string, hidden []string, err error) {
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
			Target string `xml:"Target,attr"`
		} `xml:"Relationship"`
	}
	if err := readPart(z, "xl/workbook.xml", &book); err != nil {
		return nil, nil, err
	}
	if err := readPart(z, "xl/_rels/workbook.xml.rels", &rels); err != nil {
		return nil, nil, err
	}
	target := map[string]string{}
	for _, r := range rels.All {
		if abs, ok := strings.CutPrefix(r.Target, "/"); ok {
			target[r.ID] = abs
		} else {
			target[r.ID] = path.Join("xl", r.Target)
		}
	}
	parts = map[string]string{}
	for _, s := range book.Sheets {
		if s.State == "hidden" || s.State == "veryHidden" {
			hidden = append(hidden, s.Name)
		}
		for _, a := range s.Attr {
			if a.Name.Local == "id" {
				parts[s.Name] = target[a.Value]
			}
		}
	}
	return parts, hidden, nil
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
